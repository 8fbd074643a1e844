"""A statement as a PDF: what an inspector asks stands on it, nothing is cut off, the same content is the same file."""

import dataclasses
import io
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdf
import pypdfium2
import pytest

from qclog.cli.main import main
from qclog.errors import RefusedError
from qclog.logbook import gauges, items, striking
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.questions.codes import NotForIssue
from qclog.questions.judging.values import METHODS
from qclog.questions.stating.gathering import Prepared, Wanted, prepare
from qclog.questions.stating.signing import signed
from qclog.questions.stating.statement import Signed, SwingStatement, digest, document
from qclog.records import Clamping, Limit, Reading, Turn, Work
from reports import explanations
from reports.numbers import METRIC, NumberStyle
from reports.statement import figures, texts
from reports.statement.paper import LEFT, NO_SIGN, WIDTH
from reports.statement.pdf import draft, pdf
from reports.statement.words import (
    BOUND,
    DIGEST,
    FACE,
    GUARD,
    HIGH_SPOT,
    KEY,
    ONCE,
    REVISION,
    SITTING,
    SWING,
    UNCERTAINTY,
    words,
)

SIGNED = Signed(12, 2, 1, "2026-04-01T08:00+02:00", "Northbank Toolroom, Hall 3", "Anna Kivi", "Gauge room, Fellmoor")
NOTE = "held with shims in all slots and closed lightly by hand until the indicator stood still, " * 5
TWELVE_DAYS = tuple(f"2026-03-{day:02d}" for day in range(1, 13))
A4_PT = (595.3, 841.9)


def prepared(shop: Any) -> Prepared:
    with shop.store.reading() as connection:
        return prepare(connection, Wanted("C-046"))


def made(found: Prepared, style: NumberStyle = METRIC) -> bytes:
    return pdf(signed(found, SIGNED), found.readings, style)


def pages(file: bytes) -> list[str]:
    """The text of each page, blanks and breaks alike."""
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(file)).pages]


@pytest.fixture(scope="module")
def found(sqlite_workshop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Prepared]:
    """Two clampings on each of six days, one of them struck out."""
    path = tmp_path_factory.mktemp("found") / "book.sqlite"
    shutil.copyfile(sqlite_workshop, path)
    store = open_store(str(path))
    base = Clamping("C-046", "LATHE", "", (), position="A", instrument="D-1", lever_mdeg=0, pin="P-65")
    base = dataclasses.replace(base, torque="by feel", conditions="cold, 20.5 °C", operator="RT")
    ids = []
    for day in TWELVE_DAYS[:6]:
        for value in (4.2, 4.7):
            turn = Turn("tir", (Reading(round(value * 1e6), f"{value}", 100_000),), 16_000_000_000)
            with new_entry(store, "log") as entry:
                one = dataclasses.replace(base, taken_at=day, turns=(turn,))
                ids += write_clampings(entry, [Resolver(Register(entry.connection)).resolve(one)])
    with new_entry(store, "strike") as entry:
        striking.strike(entry, Register(entry.connection).need("C-046", "item"), ids[3], reason="misread")
    with store.reading() as connection:
        yield prepare(connection, Wanted("C-046"))
    store.close()


@pytest.fixture(scope="module")
def file(found: Prepared) -> bytes:
    return made(found)


def test_what_an_inspector_asks_stands_on_it(found: Prepared, file: bytes) -> None:
    """The checklist of ISO/IEC 17025:2017, 7.8.2 and 7.8.6 (from memory), and what the trade asks (common practice)."""
    text = " ".join(pages(file))
    for said in (
        "Statement of conformity",
        "Statement no. 12, revision 2. Replaces revision 1 of statement no. 12.",
        "Date 2026-04-01",
        "Issued by Northbank Toolroom, Hall 3",
        "For Gauge room, Fellmoor",
        "HOLDS 8 µm",
        "C-046: collet, bore 6.5 mm",
        "as received",
        "8 µm full swing over a turn (TIR), at 16 mm from its front face; set by tester",
        "LATHE, revision 1",
        "S-1 (spindle), K-1 (chuck)",
        "Key position A",
        "16 mm from its front face",
        "P-65, diameter 6.479 mm, out of round 0.3 µm, class h4",
        "D-1, lever, division 1 µm, calibrated 2026-01-05, due 2027-01-05: error to 1.2 µm",
        "11 clampings in 6 sittings, 2026-03-01 to 2026-03-06",
        "the full swing seen on the indicator over one turn",
        "Torque by feel",
        "Conditions cold, 20.5 °C",
        "Read by RT",
        "Mean 4.4 µm",
        "19 in 20 stay under",
        "± 1.4 µm (k = 2)",
        "ISO 14253-1:2017",
        "Guard band",
        "as read the 11 clampings that were read HOLDS",
        "next clampings what those of other days will do: this is what is stated HOLDS",
        "Valid for C-046 at modification 0 in LATHE, revision 1, key position A",
        "as the logbook stood on 2026-04-01",
        "may not be reproduced except in full",
        "relate only to the item measured",
        "No accreditation is claimed",
        "Isolate the machine",
        "Signature: Anna Kivi",
        "misread",
        digest(document(signed(found, SIGNED))),
    ):
        assert said in text, said


def test_every_clamping_stands_on_it(found: Prepared, file: bytes) -> None:
    text = " ".join(pages(file))
    assert isinstance(found.statement, SwingStatement)
    for one in found.statement.clampings:
        assert f"{one.number} {one.taken_at} {one.swing_um:.1f} µm" in text


def test_every_page_says_which_it_is_of_how_many(file: bytes) -> None:
    read = pages(file)
    for number, text in enumerate(read, start=1):
        assert f"page {number} of {len(read)}" in text
        assert "Statement no. 12, revision 2" in text
        assert "Not to be reproduced except in full" in text


def test_the_same_statement_gives_the_same_bytes(found: Prepared, file: bytes) -> None:
    assert made(found) == file
    assert made(dataclasses.replace(found, readings=f"{found.readings} ")) != file


def test_it_is_marked_as_pdf_a3_and_needs_nothing_from_outside(file: bytes) -> None:
    """ISO 19005-3 (from memory): marked in its metadata, an output intent, lettering embedded, files associated. No
    validator could be had here; this checks what such a file must have, not that it has nothing else."""
    reader = pypdf.PdfReader(io.BytesIO(file))
    root: Any = reader.trailer["/Root"]
    xmp = root["/Metadata"].get_data().decode()
    assert "<pdfaid:part>3</pdfaid:part>" in xmp
    assert "<pdfaid:conformance>B</pdfaid:conformance>" in xmp
    assert re.findall(r"xmp:\w+Date=\"([^\"]+)\"", xmp) == ["2026-04-01T08:00:00+02:00"] * 3
    (intent,) = root["/OutputIntents"]
    assert intent["/S"] == "/GTS_PDFA1"
    assert intent["/DestOutputProfile"].get_data()[36:40] == b"acsp"
    assert {one.get_object()["/AFRelationship"] for one in root["/AF"]} == {"/Source", "/Data"}
    names = root["/Names"]["/EmbeddedFiles"]["/Names"][::2]
    assert names == sorted(names), "ISO 32000-1, 7.9.6: a name tree is in the order of its names"
    assert not reader.is_encrypted
    assert "/ID" in reader.trailer
    for page in reader.pages:
        resources: Any = page["/Resources"]
        for font in resources["/Font"].values():
            (inner,) = font.get_object()["/DescendantFonts"]
            assert "/FontFile2" in inner.get_object()["/FontDescriptor"]
    assert not any(name in root for name in ("/AcroForm", "/OCProperties"))


def test_a_draft_is_marked_on_every_page_with_what_speaks_against_it(shop: Any) -> None:
    shop.log([4.2, 4.7], days=TWELVE_DAYS[:1], instrument="D-2")
    found = prepared(shop)
    assert set(found.against) >= {NotForIssue.NOT_CALIBRATED, NotForIssue.PIN_UNKNOWN, NotForIssue.ONE_SITTING}
    read = pages(draft(found.statement, found.readings, found.against))
    assert len(read) > 1
    for text in read:
        assert text.count("NOT FOR ISSUE") == 2  # across the page, and at its head
        for reason in texts.against(found.against, found.statement):
            assert reason in text
    assert "Statement no." not in " ".join(read)


def test_every_reason_against_issuing_has_a_sentence() -> None:
    assert set(texts.NOT_FOR_ISSUE) == set(NotForIssue)


def test_every_way_to_a_bound_is_named() -> None:
    assert set(figures._METHODS) == set(METHODS.values())


@pytest.mark.parametrize(("sittings", "style"), [(2, METRIC), (12, METRIC), (3, NumberStyle(inch=True))])
def test_nothing_is_cut_off_or_written_over(shop: Any, sittings: int, style: NumberStyle) -> None:
    for day in TWELVE_DAYS[:sittings]:
        shop.log([4.2, 4.7, 3.9] * (20 if sittings == 12 else 1), days=[day], pin="P-65")
    _check_lettering(made(prepared(shop), style))


def test_nothing_is_cut_off_where_everything_is_as_long_as_it_may_be(shop: Any) -> None:
    def rename(entry: Any, register: Any) -> None:
        item = register.need("C-046", "item")
        work = Work(
            "bored " + NOTE[:400], "2026-02-01", size_pm=6_500_000_000, note=NOTE[:500], holder="LATHE", position="A"
        )
        items.modify(entry, register, item, dataclasses.replace(work, held_by=NOTE[:100]))
        for number in range(3):
            code = f"PIN OF THE SHORT SET IN THE LOWER DRAW{number}"
            gauges.add_pin(
                entry, register, code, diameter_pm=6_470_000_000, roundness_pm=None, kind="pin", grade=NOTE[:60]
            )

    shop.do(rename)
    shop.limit("C-046", Limit(8_000_000, distance_pm=16_000_000_000), modification=1)
    ids = []
    for number, day in enumerate(TWELVE_DAYS):
        ids += shop.log(
            [4.2, 4.7],
            days=[day],
            pin=f"PIN OF THE SHORT SET IN THE LOWER DRAW{number % 3}",
            operator=f"{NOTE[:80]}{number % 2}",
            torque=f"{NOTE[:200]}{number % 4}",
            conditions=NOTE[:300],
            sitting=f"{NOTE[:90]}{number}",
        )
    shop.do(lambda entry, register: striking.strike(entry, register.need("C-046", "item"), ids[3], reason=NOTE[:400]))
    found, long = prepared(shop), NOTE[:100]
    with_ = dataclasses.replace(SIGNED, issuer=long, signed_by=long, receiver=long)
    file = pdf(signed(found, with_), found.readings)
    _check_lettering(file)
    read = pages(file)
    assert NOTE[:60] in " ".join(read)
    listed = [text for text in read if re.search(r"2026-03-\d\d 4\.\d µm", text)]
    assert len(listed) > 2
    assert all("no. taken full swing sitting pin read by" in text for text in listed)


def test_readings_around_are_told_with_their_angles(shop: Any) -> None:
    shop.log_vectors([1.8 + 0.3j, 1.7 + 0.2j, 1.9 + 0.25j, 1.8 + 0.2j, 1.75 + 0.3j], days=TWELVE_DAYS[:5], pin="P-65")
    file = made(prepared(shop))
    text = " ".join(pages(file))
    assert "4 readings over one turn at 0, 90, 180, 270° clockwise facing the nose" in text
    assert "Once per turn" in text
    assert "high spot" in text
    _check_lettering(file)


def test_hints_for_whoever_logs_are_not_told_to_the_customer(shop: Any) -> None:
    shop.log_vectors([1.8 + 0.3j], days=TWELVE_DAYS[:1], pin="P-65")
    shop.log([3.4, 3.7, 3.6], days=TWELVE_DAYS[1:6], pin="P-65")
    text = " ".join(pages(made(prepared(shop))))
    assert "Only some clampings have the high spot" in text
    assert "(--" not in text
    assert text.replace("(qclog verify)", "").count("qclog") == 0


def test_a_sign_that_cannot_be_lettered_is_a_box_in_a_note_and_refused_in_a_name(found: Prepared) -> None:
    with pytest.raises(RefusedError, match="no sign '李'"):
        pdf(signed(found, dataclasses.replace(SIGNED, receiver="李")), found.readings)
    noted = dataclasses.replace(found.statement.item, note="shims 李")
    statement = dataclasses.replace(found.statement, signed=SIGNED, item=noted)
    assert f"shims {NO_SIGN}" in " ".join(pages(pdf(statement, found.readings)))


def _check_lettering(file: bytes) -> None:
    """Every character inside the margins, and no line of text over another."""
    opened = pypdfium2.PdfDocument(file)
    try:
        for page in opened:
            text = page.get_textpage()
            boxes = [text.get_rect(i) for i in range(text.count_rects(0, -1))]
            assert boxes
            for left, bottom, right, top in boxes:
                assert left > 50
                assert right < A4_PT[0] - 48
                assert bottom > 25
                assert top < A4_PT[1] - 25
            for i, one in enumerate(boxes):
                for other in boxes[i + 1 :]:
                    across = min(one[2], other[2]) - max(one[0], other[0])
                    down = min(one[3], other[3]) - max(one[1], other[1])
                    assert across < 1.0 or down < 1.5, (text.get_text_bounded(*one), text.get_text_bounded(*other))
    finally:
        opened.close()


@pytest.mark.parametrize(("sittings", "parted"), [(2, True), (20, True), (21, False)])
def test_sittings_are_parted_by_lines_where_those_stay_apart(shop: Any, sittings: int, parted: bool) -> None:
    for number in range(sittings):
        day = f"2026-{1 + number // 12:02d}-{1 + number % 12:02d}"
        shop.log([4.2, 4.7], days=[day], pin="P-65")
    found = prepared(shop)
    read = made(found)
    assert found.statement.result.sittings == sittings
    assert ("between dotted lines those of one sitting" in " ".join(pages(read))) is parted
    assert "clampings, one after the other" in " ".join(pages(read))
    contents = [page.get_contents() for page in pypdf.PdfReader(io.BytesIO(read)).pages]
    dotted = sum(one.get_data().count(b"[1.134 2.268] 0.000 d") for one in contents if one is not None)
    assert dotted == (sittings - 1 if parted else 0)


def test_the_number_of_a_page_ends_at_the_right_margin(file: bytes) -> None:
    document = pypdfium2.PdfDocument(file)
    try:
        for number, page in enumerate(document, start=1):
            text = page.get_textpage()
            start, count = text.search(f"page {number} of {len(document)}").get_next()
            right_mm = text.get_charbox(start + count - 1)[2] / 72 * 25.4
            assert LEFT + WIDTH - 1 < right_mm < LEFT + WIDTH + 0.1
    finally:
        document.close()


def test_why_the_last_sitting_alone_tells_nothing_stands_beside_the_verdict(found: Prepared) -> None:
    statement = signed(found, SIGNED)
    assert isinstance(statement, SwingStatement)
    alone = dataclasses.replace(
        statement, result=dataclasses.replace(statement.result, this_sitting="cannot tell", next_clampings="holds")
    )
    rows = {name: (what, told) for name, what, told in texts.three_verdicts(alone)}
    assert rows["last sitting"] == ("that of 2026-03-06 alone: 2 clampings, too few to tell", "cannot tell")
    open_ = dataclasses.replace(
        alone, result=dataclasses.replace(alone.result, this_sitting="cannot tell", next_clampings="cannot tell")
    )
    assert texts.three_verdicts(open_)[1][1] == "what more clampings of its last sitting (2026-03-06) would do"


def test_the_words_of_a_statement_are_explained_on_its_last_page(found: Prepared, file: bytes) -> None:
    *before, last = pages(file)
    statement = signed(found, SIGNED)
    told = words(statement)
    for word, meaning in told:
        assert f"{word}: {meaning}." in last, word
    text = " ".join((*before, last)).partition("What the words mean")[0].casefold()
    for word, _ in told:
        spoken = {DIGEST: "sha-256", SWING: "full swing", UNCERTAINTY: "uncertainty u"}.get(word, word.casefold())
        assert spoken in text, f"{word} is explained and not said"


def test_only_words_that_stand_on_a_statement_are_explained(shop: Any, found: Prepared) -> None:
    plain = {word for word, _ in words(found.statement)}
    assert {SWING, SITTING, BOUND, GUARD, UNCERTAINTY, KEY, REVISION} <= plain
    assert not {ONCE, HIGH_SPOT, FACE} & plain
    shop.log_vectors([1.8 + 0.3j, 1.7 + 0.2j, 1.9 + 0.25j, 1.8 + 0.2j, 1.75 + 0.3j], days=TWELVE_DAYS[:5], pin="P-65")
    assert {ONCE, HIGH_SPOT} <= {word for word, _ in words(prepared(shop).statement)}


@pytest.mark.parametrize("word", ["TIR", "clamping", "sitting", "bound", "confidence", "k = 2", "guard band", "digest"])
def test_what_a_receiver_is_told_of_a_word_has_a_page_that_says_more(word: str) -> None:
    assert explanations.pages(word)


@pytest.mark.parametrize(
    ("code", "characteristic", "stated"),
    [
        ("KI-8", "diametral gap", "last sitting what more readings of it would do: this is what is stated HOLDS"),
        ("JW-3", "face runout", "last sitting what more clampings of it would do: this is what is stated HOLDS"),
        ("VI-1", "jaw lift", "next readings what those of other days will do: this is what is stated HOLDS"),
        ("ST-12", "depth", "next readings what those of other days will do: this is what is stated DOES NOT HOLD"),
    ],
)
def test_of_every_sister_job_in_the_demonstration_nothing_is_cut_off_or_written_over(
    demonstrated: Store, code: str, characteristic: str, stated: str
) -> None:
    with demonstrated.reading() as connection:
        file = made(prepare(connection, Wanted(code, characteristic=characteristic)))
    _check_lettering(file)
    text = " ".join(pages(file))
    assert stated in text
    assert len(pages(file)) == 3
    assert "Bound: a figure worked out" in text


@pytest.fixture(scope="module")
def demonstrated(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    path = tmp_path_factory.mktemp("demo") / "demo.sqlite"
    assert main(["demo", "--keep", str(path)]) == 0
    store = open_store(str(path))
    yield store
    store.close()
