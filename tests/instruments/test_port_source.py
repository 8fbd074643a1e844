"""Bytes from real serial lines: pseudo-terminals, network ports and the loop-back, pulled out and put back."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from instruments.errors import PortLostError, PortNotFoundError, PortRefusedError
from instruments.line_ends import LineEnd, NetworkPort, new_end
from instruments.port import PortSource
from instruments.profile import LineSettings
from instruments.records import Arrival, Bytes, Change, Sent

SETTINGS = LineSettings()


@pytest.fixture(params=["pseudo-terminal", "network port"])
def end(request: pytest.FixtureRequest) -> Iterator[LineEnd]:
    if request.param == "network port":
        line: LineEnd = NetworkPort()
    else:
        try:
            line = new_end(pseudo_terminal=True)
        except Exception as error:
            pytest.skip(str(error))
    yield line
    line.close()


def arrivals(source: PortSource, end: LineEnd, *, until: type, seconds: float = 15.0) -> list[Arrival]:
    """What arrives up to the first of a kind; the other end is kept going meanwhile."""
    found: list[Arrival] = []
    deadline = time.monotonic() + seconds
    while not (found and isinstance(found[-1], until)):
        assert time.monotonic() < deadline, found
        end.read(0.01)
        arrival = source.read(0.01)
        found += [arrival] if arrival else []
    return found


def received(source: PortSource, count: int) -> bytes:
    data, deadline = b"", time.monotonic() + 15.0
    while len(data) < count:
        assert time.monotonic() < deadline, data
        arrival = source.read(0.1)
        data += arrival.data if isinstance(arrival, Bytes) else b""
    return data


def test_bytes_come_with_their_time_and_what_is_sent_stands_among_them(end: LineEnd) -> None:
    source = PortSource(end.address, SETTINGS)
    try:
        assert isinstance(arrivals(source, end, until=Change)[0], Change)
        for _ in range(20):
            end.read(0.01)  # lets a network listener in
        end.write(b"+0.1\r\n")
        assert received(source, 6) == b"+0.1\r\n"
        before = time.monotonic()
        source.write(b"?\r")
        sent = source.read(1.0)
        assert isinstance(sent, Sent)
        assert sent.data == b"?\r"
        heard, deadline = b"", time.monotonic() + 5.0
        while heard != b"?\r":
            assert time.monotonic() < deadline
            heard += end.read(0.05)
        end.write(b"+0.2\r\n")
        arrival = source.read(5.0)
        assert isinstance(arrival, Bytes)
        assert before <= arrival.time <= time.monotonic()
    finally:
        source.close()
    while source.read(0.0):
        pass
    assert source.ended


def test_a_port_that_is_pulled_out_is_lost_and_found_again_when_it_is_back(end: LineEnd) -> None:
    source = PortSource(end.address, SETTINGS, retry_seconds=0.05)
    try:
        arrivals(source, end, until=Change)
        for _ in range(3):
            for _ in range(5):
                end.read(0.01)
            end.pull()
            lost = arrivals(source, end, until=Change)[-1]
            assert isinstance(lost, Change)
            assert (lost.state, bool(lost.what)) == ("lost", True)
            end.put_back()
            back = arrivals(source, end, until=Change)[-1]
            while isinstance(back, Change) and back.state == "lost":  # a network port may hang up once more
                back = arrivals(source, end, until=Change)[-1]
            assert isinstance(back, Change)
            assert back.state == "connected"
            end.read(0.05)
            end.write(b"+0.3\r\n")
            assert received(source, 6) == b"+0.3\r\n"
    finally:
        source.close()


def test_nothing_can_be_sent_to_a_lost_port() -> None:
    with_pty = _pseudo_terminal()
    source = PortSource(with_pty.address, SETTINGS)
    try:
        with_pty.pull()
        arrivals(source, with_pty, until=Change)
        arrivals(source, with_pty, until=Change)
        with pytest.raises(PortLostError, match=r"is not connected\. Plug it in again"):
            source.write(b"?\r")
    finally:
        source.close()
        with_pty.close()


def test_a_read_never_blocks_for_longer_than_it_is_told() -> None:
    source = PortSource("loop://", SETTINGS)
    try:
        source.read(0.5)
        began = time.monotonic()
        assert source.read(0.05) is None
        assert time.monotonic() - began < 5.0
    finally:
        source.close()


def test_whatever_the_serial_library_opens_by_url_works() -> None:
    source = PortSource("loop://", SETTINGS)
    try:
        assert isinstance(source.read(1.0), Change)
        source.write(b"+0.1\r\n")
        assert isinstance(source.read(1.0), Sent)
        assert received(source, 6) == b"+0.1\r\n"
    finally:
        source.close()


def test_what_was_said_before_the_port_was_opened_is_stale_and_not_heard() -> None:
    line = _pseudo_terminal()
    line.write(b"+0.777 mm\r\n")
    source = PortSource(line.address, SETTINGS)
    try:
        line.write(b"+0.5\r\n")
        assert received(source, 6) == b"+0.5\r\n"
    finally:
        source.close()
        line.close()


class DyingLine:
    """A port that is pulled out while it is being emptied."""

    dtr = rts = False
    in_waiting = 5

    def __init__(self) -> None:
        self.reads = 0

    def read(self, size: int) -> bytes:
        self.reads += 1
        if self.reads > 1:
            raise OSError("unplugged")
        return b"+0.5\r"[:size]

    def write(self, data: bytes) -> int:
        return len(data)

    def close(self) -> None: ...


def test_what_came_before_a_loss_is_heard_before_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("instruments.port.open_line", lambda *_: DyingLine())
    source = PortSource("COM3", SETTINGS)
    try:
        found = [source.read(5.0) for _ in range(3)]
    finally:
        source.close()
    assert [type(arrival) for arrival in found] == [Change, Bytes, Change]
    assert isinstance(found[1], Bytes)
    assert found[1].data == b"+0.5\r"
    assert isinstance(found[2], Change)
    assert (found[2].state, found[2].what) == ("lost", "unplugged")


def test_a_port_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(PortNotFoundError, match=r"There is no port .*none\. Plug the indicator in"):
        PortSource(str(tmp_path / "none"), SETTINGS)


def test_a_port_that_another_program_uses_is_told() -> None:
    with_pty = _pseudo_terminal()
    source = PortSource(with_pty.address, SETTINGS)
    try:
        with pytest.raises(PortRefusedError, match=r"is used by another program\. Close that one"):
            PortSource(with_pty.address, SETTINGS)
    finally:
        source.close()
        with_pty.close()


@pytest.mark.parametrize(
    ("address", "told"),
    [
        ("nonsense://x", "nonsense://x cannot be opened: .*not known.* Check the address"),
        ("socket://127.0.0.1:1", "socket://127.0.0.1:1 cannot be opened: .* Check the address and that the other end"),
    ],
)
def test_a_url_that_cannot_be_opened_is_told(address: str, told: str) -> None:
    with pytest.raises(PortRefusedError, match=told):
        PortSource(address, SETTINGS)


def test_the_wires_that_feed_an_interface_are_set() -> None:
    source = PortSource("loop://", LineSettings(baud=4800, bytesize=7, parity="even", stopbits=2, dtr=True, rts=False))
    source.close()


def _pseudo_terminal() -> LineEnd:
    try:
        return new_end(pseudo_terminal=True)
    except Exception as error:
        pytest.skip(str(error))
