"""Commands for what readings are taken with: test pins and indicators."""

from typing import Annotated

import typer

from qclog.cli.common import angle, error_size, say, size, target, tell, tell_json, warn_of_look_alikes
from qclog.cli.parameters import By, Code, Json

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
    division: Annotated[str, typer.Option(help="One graduation or digit: 1um, 0.2um, .0001in.")],
    kind: Annotated[str, typer.Option(help="lever, plunger, electronic, other.")] = "lever",
    range_: Annotated[str | None, typer.Option("--range", help="Measuring range; a bare number is mm.")] = None,
    unit: Annotated[str, typer.Option(help="Unit of bare numbers read with it: um, mm, in, thou, tenths.")] = "",
    correct_at: Annotated[str, typer.Option(help="Lever angle it reads right at, in degrees.")] = "0",
    serial: Annotated[str, typer.Option(help="Serial number.")] = "",
    by: By = "",
) -> None:
    """Enter an indicator."""
    from qclog.lengths import parse_unit
    from qclog.logbook import gauges
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(create=True), "instrument add", by) as entry:
        register = Register(entry.connection)
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
    """Enter a calibration of an indicator or a test pin."""
    from qclog.errors import NotFoundError
    from qclog.logbook import gauges
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(), "instrument calibrate", by) as entry:
        register = Register(entry.connection)
        gauge = register.find(code)
        if gauge is None or gauge.kind not in ("instrument", "pin"):
            raise NotFoundError(f"There is no indicator or pin {code!r}.", "See: qclog instrument list")
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
        say(f"Calibration of {gauge.text} entered, in force from {on}.")


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
