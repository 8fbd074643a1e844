"""What else happened in the invented workshop: the awkward things a logbook has to bear."""

from typing import Final

from demo_readings.bench import DIAL, ELECTRONIC, INCH, LEVER, MM, NOT_NAMED, STEEP, Bench, Runs
from demo_readings.collets import NORTH, SOUTH, bored, pin, received
from demo_readings.diary import Event, Place, decided, event, logged, made_to, seen, sitting, struck_out, used, worked
from demo_readings.owned import OPENED
from qclog.logbook import setups
from qclog.logbook.entries import Entry
from qclog.logbook.limits import set_limit
from qclog.logbook.lookup import Register
from qclog.records import Work

CRASH: Final = "2024-10-18"
_TWELFTHS: Final = tuple(range(0, 360, 30))
_EIGHTHS: Final = tuple(range(0, 360, 45))
_QUARTERS: Final = (0, 90, 180, 270)


def events() -> list[Event]:
    """All of them; each function is one story."""
    stories = (
        _crash,
        _never_measured_since_the_crash,
        _two_key_positions,
        _better_at_the_other_position,
        _wearing_out,
        _two_sittings_that_disagree,
        _seats_in_two_ways,
        _bell_mouth,
        _cracked,
        _new_one,
        _old_notebook,
        _small_bore,
        _soft_and_in_inches,
        _large_bore,
        _slips_of_the_pen,
        _head,
    )
    return [happened for story in stories for happened in story()]


def _crash() -> list[Event]:
    def write(entry: Entry, register: Register) -> None:
        reason = 'boring bar ran into the nose; sleeve taken out, cleaned, re-seated at "III"'
        setups.refit(entry, register, register.need("LATHE-A", "setup"), reason=reason, since=CRASH)

    return [event(CRASH, "refit LATHE-A", "RT", write)]


def _never_measured_since_the_crash() -> list[Event]:
    bench = Bench("B-670")
    return [
        received("B-670", 6.7),
        bored("2024-03-05", "B-670", 6.7, (made_to(9, 25),)),
        sitting(bench, "2024-03-06", "B-670", NORTH, LEVER, "P-670", Runs(3.8, 75), 5, who="AK"),
        sitting(bench, "2024-07-09", "B-670", NORTH, LEVER, "P-670", Runs(3.8, 75), 5, who="AK"),
    ]


def _two_key_positions() -> list[Event]:
    """An ordinary collet, tried at the other key position too."""
    bench = Bench("B-920 at S")
    runs = Runs(7.2, 140, 0.4, 0.7)
    return [
        sitting(bench, "2025-04-16", "B-920", SOUTH, LEVER, "P-920", runs, 5, who="AK"),
        sitting(bench, "2025-12-09", "B-920", SOUTH, LEVER, "P-920", runs, 5, who="RT", note="nur zum Vergleich"),
    ]


def _better_at_the_other_position() -> list[Event]:
    bench = Bench("B-945")
    at_north, at_south = Runs(15.5, 220), Runs(3.6, 300, 0.25, 0.5)
    story = [received("B-945", 9.45), bored("2025-04-22", "B-945", 9.45, (made_to(11, 25),), place=SOUTH)]
    for day in ("2025-04-23", "2025-07-15", "2025-12-10", "2026-04-21"):
        story.append(sitting(bench, day, "B-945", NORTH, LEVER, "P-945", at_north, 4, who="RT"))
        story.append(sitting(bench, day, "B-945", SOUTH, LEVER, "P-945", at_south, 4, who="RT"))
    return story


def _wearing_out() -> list[Event]:
    """The collet for the daily job, read where the parts are cut; the level rises, then the scatter."""
    bench, place = Bench("B-860"), Place("LATHE-A", "N", 16)
    story = [received("B-860", 8.6), bored("2024-10-22", "B-860", 8.6, (made_to(12, 16),))]
    worn = (
        ("2024-10-23", 4.6, 0),
        ("2025-02-25", 5.3, 310),
        ("2025-06-10", 6.4, 290),
        ("2025-10-07", 8.2, 420),
        ("2026-02-03", 10.1, 380),
        ("2026-05-19", 13.2, 450),
        ("2026-08-25", 16.4, 520),
    )
    for day, um, clampings in worn:
        if clampings:
            story.append(used(day, "B-860", "RT", clampings, "bushings, brass and steel"))
        runs = Runs(um, 30, 0.3, 0.5 + um / 20)
        story.append(sitting(bench, day, "B-860", place, LEVER, "P-860", runs, 5, who="RT"))
    return story


def _two_sittings_that_disagree() -> list[Event]:
    bench, place = Bench("B-655"), Place("LATHE-B", "1", 25)
    return [
        received("B-655", 6.55),
        bored("2025-05-20", "B-655", 6.55, (made_to(12, 25),), place=place),
        sitting(bench, "2025-05-21", "B-655", place, LEVER, "P-655", Runs(4.2, 80, 0.1), 6, who="AK"),
        sitting(
            bench, "2026-01-13", "B-655", place, LEVER, "P-655", Runs(7.6, 80, 0.1), 6, who="MÖ", note="chuck warm, hm"
        ),
    ]


def _seats_in_two_ways() -> list[Event]:
    bench, place = Bench("B-855"), Place("LATHE-B", "1", 25)
    low, high = Runs(3.4, 10, 0.2, 0.4), Runs(10.6, 190, 0.2, 0.4)
    story = [
        received("B-855", 8.55, nominal_mm=8),
        bored("2025-06-03", "B-855", 8.55, (made_to(12, 25),), place=place),
    ]
    for day in ("2025-06-04", "2025-09-30"):
        first, second = bench.swings(low, 3, LEVER), bench.swings(high, 3, LEVER)
        mixed = [swing for pair in zip(first, second, strict=True) for swing in pair]
        note = "mal so, mal so; Span in der Nut?"
        story.append(logged(day, "B-855", place, LEVER, "P-855", swings=mixed, who="MÖ", note=note))
    return story


def _bell_mouth() -> list[Event]:
    """Near it is fine, far it is not; the feeler went in at the front."""
    bench, place = Bench("B-795"), Place("LATHE-B", "2", 25)
    near, far = Runs(3.6, 250), Runs(16.5, 255, 0.6, 0.9)
    story = [
        received("B-795", 7.95, nominal_mm=7),
        bored("2025-06-10", "B-795", 7.95, (made_to(9, 3), made_to(9, 25)), place=place),
    ]
    for day in ("2025-06-11", "2025-10-21", "2026-03-17"):
        at = ((3, bench.swings(near, 4, LEVER)), (25, bench.swings(far, 4, LEVER)))
        story.append(logged(day, "B-795", place, LEVER, "P-795", at=at, who="AK"))
    note = 'a 0.03 feeler goes in 8 mm deep, "wobbles" when pushed'
    return [*story, seen("2026-03-17", "B-795", "AK", "bell-mouth", note)]


def _cracked() -> list[Event]:
    bench = Bench("B-870 cracked")
    return [
        received("B-870", 8.7, nominal_mm=8),
        bored("2025-03-25", "B-870", 8.7, (made_to(12, 25),)),
        sitting(bench, "2025-03-26", "B-870", NORTH, LEVER, "P-870", Runs(4.3, 130, 0.3, 0.5), 5, who="AK"),
        sitting(bench, "2026-05-12", "B-870", NORTH, LEVER, "P-870", Runs(4.3, 130, 0.3, 0.5), 5, who="AK"),
        seen(
            "2026-05-12", "B-870", "AK", "crack", "hairline at the root of slot 7, seen with the loupe, oil creeps in"
        ),
        decided("2026-05-12", "B-870", "AK", "scrap", "cracked"),
    ]


def _new_one() -> list[Event]:
    """One clamping only: what the other collets at this place do from day to day speaks for it."""
    return [
        received("B-880", 8.8, "2026-08-17"),
        bored("2026-09-01", "B-880", 8.8, (made_to(12, 25),)),
        logged("2026-09-02", "B-880", NORTH, LEVER, "P-880", swings=["4"], who="AK", note="gleich gebraucht"),
    ]


def _old_notebook() -> list[Event]:
    """What an old notebook says of an ordinary collet, which had its slots cleared since and then was bored."""
    cleared = Work("slots cleared", "2024-04-16", note="brass packed in 5 of 16 slots")
    old = (("2019-05", "6-8"), ("2020-11", "<5"), ("2022", "~9"))
    noted = [
        logged(
            OPENED,
            "B-905",
            NORTH,
            NOT_NAMED,
            "",
            swings=[swing],
            who="AK",
            recalled_of=when,
            note="old notebook, S. 41",
        )
        for when, swing in old
    ]
    jaws = Place("HEAD", "", 12)
    return [
        *noted,
        logged(OPENED, "JW-1", jaws, NOT_NAMED, "R-24", swings=["~12"], who="MÖ", recalled_of="2023-03", note="S. 58"),
        sitting(Bench("B-905 old"), "2024-04-15", "B-905", NORTH, LEVER, pin(9), Runs(9.2, 30, 0.5, 1.4), 4, who="AK"),
        worked("2024-04-16", "B-905", "AK", cleared),
        sitting(Bench("B-905 cleared"), "2024-04-17", "B-905", NORTH, LEVER, pin(9), Runs(7.1, 30), 4, who="AK"),
    ]


def _small_bore() -> list[Event]:
    """Whole turns: twelve points on a three-lobed pin, quarter turns on a better one, a turn with a gap."""
    bench, place, runs = Bench("B-412"), Place("LATHE-A", "N", 16), Runs(3.4, 160, 0.4, 0.5)
    lobed = bench.turns(runs, 3, _TWELFTHS, LEVER, lobes_um=1.8)
    some = (0, 30, 60, 90, 120, 180, 210, 240, 300, 330)
    gap = bench.turns(runs, 1, some, LEVER)
    story = [
        received("B-412", 4.12),
        bored("2025-07-01", "B-412", 4.12, (made_to(10, 16),), what="bored and lapped"),
        logged("2025-07-02", "B-412", place, LEVER, "P-412L", turns=lobed, who="MÖ", note="pin läuft dreibogig"),
        logged(
            "2025-07-02",
            "B-412",
            place,
            LEVER,
            "P-412",
            turns=gap,
            angles=" ".join(map(str, some)),
            who="MÖ",
            note="150 and 270 hidden by the stand",
        ),
    ]
    for day in ("2025-07-08", "2025-11-04", "2026-04-14"):
        turns = bench.turns(runs, 4, _QUARTERS, LEVER)
        story.append(logged(day, "B-412", place, LEVER, "P-412", turns=turns, who="MÖ"))
    return story


def _soft_and_in_inches() -> list[Event]:
    """Annealed so that it could be bored; read with the inch indicator, whose lever angle nobody noted."""
    bench, place, runs = Bench("B-535"), Place("LATHE-B", "1", 16), Runs(8.9, 45, 0.8, 1.2)
    note = "nose only, rest kept cool; lost its spring a little"
    return [
        received("B-535", 5.35),
        sitting(bench, "2024-09-10", "B-535", place, INCH, "P-500", Runs(18, 200, 1, 2), 3, who="RT", note="as bought"),
        worked("2025-08-05", "B-535", "RT", Work("annealed", "2025-08-05", note=note)),
        bored("2025-08-12", "B-535", 5.35, (made_to(20, 16),), place=place),
        sitting(bench, "2025-08-13", "B-535", place, INCH, "P-535", runs, 5, who="RT"),
        sitting(bench, "2026-01-20", "B-535", place, INCH, "P-535", runs, 5, who="RT"),
    ]


def _large_bore() -> list[Event]:
    """One sitting, and nobody wrote down the indicator."""
    bench, place = Bench("B-1165"), Place("LATHE-A", "N", 40)
    return [
        received("B-1165", 11.65),
        bored("2026-07-21", "B-1165", 11.65, (made_to(20, 40),)),
        sitting(bench, "2026-07-22", "B-1165", place, NOT_NAMED, "P-1165", Runs(7.2, 10), 5, who="MÖ"),
    ]


def _slips_of_the_pen() -> list[Event]:
    """Logged, found wrong, struck out with the reason; and a lever set far too steep."""
    misread = "0 1 2 3 4 4 40 4 3 2 1 0"
    return [
        logged("2025-10-14", "B-710", NORTH, LEVER, "P-710", swings=[".005in"], who="RT"),
        struck_out("2025-10-14", "B-710", "RT", "meant 5 µm, typed .005in: 25.4 times too much"),
        logged("2025-11-25", "B-815", NORTH, LEVER, "P-815", turns=[misread], who="MÖ"),
        struck_out("2025-11-26", "B-815", "MÖ", "dial misread, 4 not 40", turn=1, reading=7),
        logged("2025-09-24", "B-685", NORTH, STEEP, "P-685", swings=["7", "6"], who="RT", note="no room, lever steep"),
    ]


def _head() -> list[Event]:
    """The dividing head has a limit of its own, whatever sits in it."""
    arbor, jaws, place = Bench("AR-1"), Bench("JW-1"), Place("HEAD", "", 30)
    before, after = Runs(38, 120, 1.5, 2.0), Runs(27.5, 135, 0.8, 1.0)
    story = [
        sitting(arbor, "2024-05-28", "AR-1", place, LEVER, "", before, 4, who="RT"),
        worked("2024-08-27", "AR-1", "RT", Work("ground", "2024-08-27", size_pm=16 * MM, note="between centres")),
        event(
            "2024-08-29",
            "limit JW-1",
            "AK",
            lambda entry, register: set_limit(entry, register, register.need("JW-1", "item"), 0, made_to(12, 12)),
        ),
    ]
    for day in ("2024-09-03", "2025-03-18", "2025-09-16"):
        turns = arbor.turns(after, 4, _EIGHTHS, ELECTRONIC)
        story.append(logged(day, "AR-1", place, ELECTRONIC, "", turns=turns, who="RT", torque="30 N m"))
    for day in ("2024-08-30", "2025-04-29", "2025-12-16"):
        swings = jaws.swings(Runs(7.5, 200, 0.5, 1), 5, DIAL)
        story.append(logged(day, "JW-1", Place("HEAD", "", 12), DIAL, "R-24", swings=swings, who="MÖ"))
    return story
