"""Commands for what readings are taken with: test pins and indicators."""

from typing import Annotated

import typer

from qclog.cli.common import angle, error_size, say, size, target, tell, tell_json, warn_of_look_alikes
from qclog.cli.parameters import By, Code, Json, Note, On

pins = typer.Typer(help="Test pins, mandrels, rings.", no_args_is_help=True)
instruments = typer.Typer(help="Indicators and their calibrations.", no_args_is_help=True)


def add_to(app: typer.Typer) -> None:
    app.add_typer(pins, name="pin")
    app.add_typer(instruments, name="instrument")


@pins.command("add")
def pin_add(
    context: typer.Context,
    code: Code,
    diameter: Annotated[str, typer.Option(help="Actual diameter; a bare number is mm.")],
    roundness: Annotated[str | None, typer.Option(help="Out-of-roundness, as 0.5um.")] = None,
    kind: Annotated[str, typer.Option(help="pin, mandrel, ring, part.")] = "pin",
    grade: Annotated[str, typer.Option(help="Its class.")] = "",
    by: By = "",
) -> None:
    """Enter a test pin with its actual diameter."""
    from qclog.logbook import gauges
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(create=True), "pin add", by) as entry:
        register = Register(entry.connection)
        pin = gauges.add_pin(
            entry,
            register,
            code,
            diameter_pm=size(diameter) or 0,
            roundness_pm=error_size(roundness, register),
            kind=kind,
            grade=grade,
        )
        say(f"Pin {pin.text} entered.")
        warn_of_look_alikes(register, pin.text)


@pins.command("list")
def pin_list(context: typer.Context, as_json: Json = False) -> None:
    """All test pins."""
    from qclog.logbook.life import read_pins
    from reports.cards import pins_document, pins_text

    with target(context).open().reading() as connection:
        known = read_pins(connection)
    if as_json:
        tell_json(pins_document(known))
    else:
        tell(pins_text(known))


@instruments.command("add")
def instrument_add(
    context: typer.Context,
    code: Code,
    division: Annotated[str | None, typer.Option(help="One graduation or digit: 1um, 0.2um, .0001in.")] = None,
    kind: Annotated[
        str,
        typer.Option(help='lever, plunger, electronic, micrometer, ...; without a division "torque wrench", ...'),
    ] = "lever",
    range_: Annotated[str | None, typer.Option("--range", help="Measuring range; a bare number is mm.")] = None,
    unit: Annotated[str, typer.Option(help="Unit of bare numbers read with it: um, mm, in, thou, tenths.")] = "",
    correct_at: Annotated[str, typer.Option(help="Lever angle it reads right at, in degrees.")] = "0",
    serial: Annotated[str, typer.Option(help="Serial number.")] = "",
    by: By = "",
) -> None:
    """Enter an indicator, or a torque wrench.

    What reads no lengths is entered without a division: --kind "torque wrench", --kind "gauge blocks".
    """
    from qclog.lengths import parse_unit
    from qclog.logbook import gauges
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(create=True), "instrument add", by) as entry:
        register = Register(entry.connection)
        if division is None:
            other = gauges.add_other(entry, register, code, kind, [("range", range_ or "")])
            say(f"{other.text} entered ({kind}). Its calibration: qclog instrument calibrate {other.text} ...")
            warn_of_look_alikes(register, other.text)
            return
        instrument = gauges.add_instrument(
            entry,
            register,
            code,
            kind=kind,
            unit=parse_unit(unit) if unit else "",
            division_pm=error_size(division, register) or 0,
            range_pm=size(range_),
            correct_at_mdeg=angle(correct_at) or 0,
            serial=serial,
        )
        say(f"Indicator {instrument.text} entered. Its calibration: qclog instrument calibrate {instrument.text} ...")
        warn_of_look_alikes(register, instrument.text)


@instruments.command("calibrate")
def instrument_calibrate(
    context: typer.Context,
    code: Code,
    on: Annotated[str, typer.Option("--on", metavar="DATE", help="When it was calibrated.")],
    due: Annotated[str, typer.Option(metavar="DATE", help="When it is due again.")] = "",
    every: Annotated[
        str,
        typer.Option(metavar="MONTHS", help="Months between calibrations, instead of --due; kept for the next one."),
    ] = "",
    error_limit: Annotated[
        str | None, typer.Option(help="Largest error over the range used, hysteresis included: 2um.")
    ] = None,
    uncertainty: Annotated[str | None, typer.Option(help="Expanded uncertainty of the certificate: 0.4um.")] = None,
    k: Annotated[float, typer.Option(help="Coverage factor of that uncertainty.")] = 2.0,
    certificate: Annotated[str, typer.Option(help="Number of the certificate.")] = "",
    as_found: Annotated[str, typer.Option(help="State as found.")] = "",
    as_left: Annotated[str, typer.Option(help="State as left.")] = "",
    by: By = "",
) -> None:
    """Enter a calibration of an indicator or pin.

    Of a torque wrench or blocks too.
    """
    from qclog import times
    from qclog.logbook import gauges, noting
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from qclog.particulars import EVERY, months_later, parse

    with new_entry(target(context).open(), "instrument calibrate", by) as entry:
        register = Register(entry.connection)
        gauge = gauges.need_gauge(register, code)
        if every:
            noting.note(entry, register, gauge, [parse(f"{EVERY}={every}", ["gauge"])])
        months = noting.read_noted(entry.connection, [gauge.id]).get(gauge.id, {}).get(EVERY)
        due = due or (months_later(times.taken_at(on), int(months)) if months else "")
        gauges.add_calibration(
            entry,
            register,
            gauge,
            done_on=on,
            due_on=due,
            error_limit_pm=error_size(error_limit, register),
            uncertainty_pm=error_size(uncertainty, register),
            coverage_factor=k if uncertainty else None,
            certificate=certificate,
            as_found=as_found,
            as_left=as_left,
        )
        say(f"Calibration of {gauge.text} entered, in force from {on}{f', due {due}' if due else ''}.")


@instruments.command("check")
def instrument_check(
    context: typer.Context,
    code: Code,
    read: Annotated[str, typer.Argument(metavar="READ", help='What it read on a known step: "100.5 on 100".')],
    within: Annotated[
        str, typer.Option(metavar="LENGTH", help="How far off it may be: 1um; kept for the next check.")
    ] = "",
    against: Annotated[str, typer.Option(help="What it was checked on: a block, two pins.")] = "",
    every: Annotated[str, typer.Option(metavar="DAYS", help="Days between checks; kept, and told by due.")] = "",
    on: On = None,
    note: Note = "",
    by: By = "",
) -> None:
    """Enter a quick check on one known step.

    As is done weekly, on a block or between two pins. The last one that was within is where a recall begins.
    """
    from qclog import times
    from qclog.capture import bare_unit
    from qclog.errors import RefusedError, UsageError
    from qclog.lengths import parse_length
    from qclog.logbook import gauges, noting
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from qclog.notation import parse_read_on_true
    from qclog.particulars import CHECK_EVERY, WITHIN, parse
    from reports.cards import check_text

    with new_entry(target(context).open(), "instrument check", by) as entry:
        register = Register(entry.connection)
        gauge = gauges.need_indicator(register, code)
        unit = bare_unit(register, gauge.text)
        shown = parse_read_on_true(read, bare=unit)
        if shown is None:
            raise UsageError(f"{read!r} does not say what was read on which step.", 'Type it as "100.5 on 100".')
        if within:
            exact = f"{parse_length(within, bare=unit).picometres / 1e9:.9f}".rstrip("0").rstrip(".")
            noting.note(entry, register, gauge, [parse(f"{WITHIN}={exact}mm", ["gauge"])])
        if every:
            noting.note(entry, register, gauge, [parse(f"{CHECK_EVERY}={every}", ["gauge"])])
        allowed = noting.read_noted(entry.connection, [gauge.id]).get(gauge.id, {}).get(WITHIN)
        if allowed is None:
            raise RefusedError(f"How far may {gauge.text} be off?", "Say it once: --within 1um")
        done_at = times.taken_at(on) if on else times.now()
        within_pm = size(allowed) or 0
        good = gauges.add_check(
            entry,
            gauge,
            done_at=done_at,
            read_pm=shown[0],
            true_pm=shown[1],
            within_pm=within_pm,
            against=against,
            remark=note,
        )
    told = {"read_pm": shown[0], "true_pm": shown[1], "within_pm": within_pm, "against": against}
    say(f"{gauge.text}, {check_text(told)}.")
    if not good:
        say(f'Wipe it, check again. If it stays out: qclog recall {gauge.text} --found "{read}"')


@instruments.command("list")
def instrument_list(context: typer.Context, as_json: Json = False) -> None:
    """All indicators with their newest calibration."""
    from qclog.logbook.life import read_instruments
    from reports.cards import instruments_document, instruments_text

    with target(context).open().reading() as connection:
        known = read_instruments(connection)
    if as_json:
        tell_json(instruments_document(known))
    else:
        tell(instruments_text(known))
