"""Profiles are read strictly: every fault is one error that names file, key and remedy."""

import re
import tomllib
from pathlib import Path

import pytest

from instruments import profile_files
from instruments.errors import ProfileError, ProfileNotFoundError
from instruments.keys import Table
from instruments.profile import LineSettings, Profile
from instruments.profile_files import load_profile, read_profile, shipped_profiles

README = Path(profile_files.__file__).parent / "profiles" / "README.md"
GOOD = r"""
about = "a test"
pattern = '(?P<number>[+-][0-9]\.[0-9]{3})'
example = "+0.012"
unit = "mm"
"""
COUNT = GOOD.replace("{3})'", "{3})@(?P<count>[0-9]*)'").replace("012", "012@7")
MARK = GOOD.replace("{3})'", "{3})(?P<index>.?)'").replace("012", "012*")
REGISTERS = 'about = "r"\nframes = "registers"\nunit = "um"\n'


def refusal(text: str) -> ProfileError:
    with pytest.raises(ProfileError) as caught:
        read_profile(text, "bench/mine.toml")
    return caught.value


def test_a_small_profile_has_the_usual_values() -> None:
    profile = read_profile(GOOD, "bench/mine.toml")
    assert profile.name == "mine"
    assert profile.settings == LineSettings(baud=9600, bytesize=8, parity="none", stopbits=1, dtr=None, rts=None)
    assert (profile.frames, profile.mode, profile.terminator, profile.decimal) == ("lines", "stream", "any", "point")
    assert (profile.port, profile.request, profile.status, profile.decimals) == (None, b"", {}, {})


@pytest.mark.parametrize("name", shipped_profiles())
def test_every_shipped_profile_can_be_read_and_tells_for_what_it_is(name: str) -> None:
    profile = load_profile(name)
    assert profile.name == name
    assert profile.about


def test_every_shipped_profile_is_told_of_on_the_writers_page() -> None:
    for name in shipped_profiles():
        assert f"| `{name}` |" in README.read_text("utf-8")


def test_the_profiles_on_the_writers_page_are_some() -> None:
    whole, marked = re.findall(r"```toml\n(.*?)```", README.read_text("utf-8"), re.DOTALL)
    assert read_profile(whole, "readme.toml").request == b"?\r"
    assert read_profile(marked, "readme.toml").index == {"*": "mark"}


def test_every_key_is_told_of_on_the_writers_page(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: set[str] = set()
    contains = Table.__contains__

    def noted(table: Table, key: str) -> bool:
        asked.add(key)
        return contains(table, key)

    monkeypatch.setattr(Table, "__contains__", noted)
    for name in shipped_profiles():
        load_profile(name)
    page = README.read_text("utf-8")
    assert {key for key in asked if re.fullmatch("[a-z_]{3,}", key)} - set(
        re.findall(r"`\[?([a-z_]+)\]?(?: = |`)", page)
    ) == {"inch"}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("about = ", "mine.toml is not TOML"),
        (GOOD.replace("about", "aboot"), 'the key "about" is missing. Say in one line'),
        (GOOD + 'termnator = "CR"\n', 'the key "termnator" is not known here. Did you mean "terminator"?'),
        (GOOD + "zzz = 1\n", 'the key "zzz" is not known here. Keys here: '),
        (GOOD + "baud = 0\n", 'the key "baud" is 0. Write a whole number from 50 to 4000000.'),
        (GOOD + 'baud = "9600"\n', 'the key "baud" is "9600". Write a whole number'),
        (GOOD + "baud = true\n", 'the key "baud" is True. Write a whole number'),
        (GOOD + "bytesize = 9\n", 'the key "bytesize" is 9. Write a whole number from 5 to 8.'),
        (GOOD + 'parity = "E"\n', 'the key "parity" is "E". Write one of "none", "even", "odd".'),
        (GOOD + "stopbits = 1.5\n", 'the key "stopbits" is 1.5. Write a whole number from 1 to 2.'),
        (GOOD + 'dtr = "yes"\n', 'the key "dtr" is "yes". Write dtr = true or dtr = false.'),
        (GOOD + 'terminator = "\\r"\n', 'the key "terminator" is "\\r". Write one of "CR", "LF", "CRLF", "any".'),
        (GOOD + 'mode = "poll"\n', 'the key "mode" is "poll". Write one of "stream", "request", "button".'),
        (GOOD + 'mode = "request"\n', 'the key "request" is missing. Write what asks'),
        (GOOD + 'request = "?"\n', 'the key "request" is not used in mode "stream". Write mode = "request"'),
        (GOOD + 'mode = "request"\nrequest = ""\n', 'the key "request" is empty or not ASCII.'),
        (GOOD + 'mode = "request"\nrequest = "µ"\n', 'the key "request" is empty or not ASCII.'),
        (GOOD + 'identify = "*IDN?\\n"\n', 'the key "identify" is not used in mode "stream".'),
        (GOOD + "answer_seconds = 0\n", 'the key "answer_seconds" is not above 0 and at most 30.'),
        (
            GOOD + "scale = 0.001\n",
            'the key "scale" is 0.001. Write the number in quotation marks, as scale = "0.001".',
        ),
        (GOOD + 'scale = "0"\n', 'the key "scale" is 0.'),
        (GOOD + 'scale = "NaN"\n', 'the key "scale" is "NaN".'),
        (GOOD + "decimals = 13\n", 'the key "decimals" is 13. Write a whole number from 0 to 12.'),
        (GOOD + "decimals = 2\n", 'the key "example" does not become a reading ("+0.012": decimals, "+0.012").'),
        (GOOD + 'unit = "cm"\n', "mine.toml is not TOML: Cannot overwrite a value"),
        (GOOD.replace('"mm"', '"cm"'), 'the key "unit" is "cm". Write one of "um", "mm"'),
        (GOOD.replace('unit = "mm"', ""), 'the key "unit" is missing. The line does not tell the unit'),
        (GOOD + 'units = { MM = "cm" }\n', 'the key "units.MM" is "cm". Write one of "um"'),
        (GOOD + 'units = "mm"\n', 'the key "units" is not a table. Write [units] on a line of its own'),
        (GOOD + 'status = { H = "held" }\n', 'the key "status.H" is "held". Write one of "live"'),
        (GOOD + 'signs = { "8" = "minus" }\n', 'the key "signs.8" is "minus". Write one of "+", "-".'),
        (GOOD + 'range = { low = "1", high = "-1", unit = "mm" }\n', 'the key "range.high" is not above low.'),
        (GOOD + 'range = { low = "-1", high = "1" }\n', 'the key "range.unit" is missing.'),
        (GOOD + 'range = { low = "-1", high = "1", unit = "mm", top = 1 }\n', 'the key "range.top" is not known here.'),
        (GOOD.replace("?P<number>", "?:"), 'the key "pattern" has no group for the number.'),
        (GOOD.replace("[0-9]{3}", "([0-9]+)+"), 'the key "pattern" repeats a group with "+". Repeat one character'),
        (GOOD.replace("?P<number>", "?P<value>"), 'the key "pattern" has a group "value". Groups are named number'),
        (GOOD.replace("+0.012", "0.012"), 'the key "example" does not become a reading ("0.012": no_match'),
        (GOOD.replace("{3})", "{3})(?P<unit>mm)"), 'the key "units" is missing. Say what the unit texts mean'),
        (GOOD + 'frames = "registers"\n', 'the key "registers" is missing. Write [registers]'),
        (
            REGISTERS + '[registers]\naddress = 1\ntype = "int"\n',
            'the key "registers.type" is "int". Write one of "int16"',
        ),
        (REGISTERS + '[registers]\ntype = "int16"\n', 'the key "registers.address" is missing. Write a whole number'),
        (REGISTERS + '[registers]\naddress = 1\ntype = "float32"\n', 'the key "decimals" is missing. A float carries'),
        (REGISTERS + 'decimals = 3\n[registers]\naddress = 1\ntype = "int16"\n', 'the key "decimals" is not for whole'),
        (
            REGISTERS + 'pattern = "."\n[registers]\naddress = 1\ntype = "int16"\n',
            'the key "pattern" is not known here.',
        ),
        (
            REGISTERS + 'mode = "stream"\n[registers]\naddress = 1\ntype = "int16"\n',
            'the key "mode" is not for registers.',
        ),
        (COUNT, 'the key "counts_per_turn" is missing. Write how many counts make a turn; 360 where'),
        (COUNT + "counts_per_turn = 0\n", 'the key "counts_per_turn" is 0. Write how many counts'),
        (COUNT + "counts_per_turn = 4096.0\n", 'the key "counts_per_turn" is 4096.0. Write a whole number from'),
        (GOOD + "counts_per_turn = 4096\n", 'the key "counts_per_turn" is not used: the pattern has no group for the'),
        (
            COUNT.replace("[0-9]*)'", "[0-9x]*)'").replace("@7", "@7x") + "counts_per_turn = 9\n",
            'the key "example" does not become a reading ("+0.012@7x": no_count, "7x").',
        ),
        (MARK, 'the key "index" does not say what marks the turn. Write [index] and below it "*" = "mark".'),
        (MARK + 'index = { "-" = "no mark" }\n', 'the key "index" does not say what marks the turn.'),
        (MARK + 'index = { "*" = "yes" }\n', 'the key "index.*" is "yes". Write one of "mark", "no mark".'),
        (GOOD + 'index = { "*" = "mark" }\n', 'the key "index" is not used: the pattern has no group for it.'),
        (MARK.replace("012*", "012x") + 'index = { "*" = "mark" }\n', '"+0.012x": unknown_index, "x").'),
        (GOOD.replace("a test", "x" * 500), 'the key "about" is not a text of at most 400 characters.'),
        ("about = 5\n", 'the key "about" is not a text'),
    ],
)
def test_each_fault_names_file_key_and_remedy(text: str, told: str) -> None:
    error = refusal(text)
    assert str(error).startswith("bench/mine.toml")
    assert told in str(error)
    assert str(error).isprintable()
    assert error.remedy


def test_a_profile_of_ones_own_is_found_by_its_path(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert isinstance(load_profile(path), Profile)
    assert load_profile(str(path)).name == "mine"


def test_a_profile_that_is_not_there_is_told_with_those_that_are(tmp_path: Path) -> None:
    with pytest.raises(ProfileNotFoundError, match="one of ascii-button, ascii-encoder"):
        load_profile("nothing")
    with pytest.raises(ProfileNotFoundError, match=r"none\.toml cannot be read: No such file"):
        load_profile(tmp_path / "none.toml")


def test_a_profile_that_is_no_text_is_told(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes(b"about = \xff")
    with pytest.raises(ProfileError, match="is not UTF-8 text"):
        load_profile(path)


@pytest.mark.parametrize("name", shipped_profiles())
def test_a_shipped_profile_names_nobody(name: str) -> None:
    """Shapes, not senders: no address of a USB adapter, no port of this computer."""
    content = tomllib.loads((README.parent / f"{name}.toml").read_text("utf-8"))
    assert content.get("port") in (None, "keyboard")
