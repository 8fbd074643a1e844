"""Commands that write down what is owned and what was done to it."""

from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import angle, bare_unit, error_size, say, size, target, tell, tell_json

if TYPE_CHECKING:
    from qclog.logbook.lookup import Register
    from qclog.records import Limit

Code = Annotated[str, typer.Argument(help="The code, as on the thing itself.")]
On = Annotated[str | None, typer.Option("--on", metavar="DATE", help="When: 2026-03-04 or 2026-03-04T10:30. Now.")]
By = Annotated[str, typer.Option("--by", metavar="WHO", help="Who did it, if not you.")]
Note = Annotated[str, typer.Option("--note", help="Anything worth remembering.")]
MadeTo = Annotated[
    list[str] | None,
    typer.Option("--made-to", metavar="LIMIT", help='What it must hold: "8um@16mm" (at 16 mm out), or "8um". Repeat.'),
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document.")]

items = typer.Typer(help="Items: collets, sleeves, chucks, jaws and the like.", no_args_is_help=True)
setups = typer.Typer(help="Setups: named chains from the spindle outward.", no_args_is_help=True)
pins = typer.Typer(help="Test pins, mandrels, rings.", no_args_is_help=True)
instruments = typer.Typer(help="Indicators and their calibrations.", no_args_is_help=True)


def add_to(app: typer.Typer) -> None:
    app.add_typer(items, name="item")
    app.add_typer(setups, name="setup")
    app.add_typer(pins, name="pin")
    app.add_typer(instruments, name="instrument")
    for name, command in (
        ("modify", modify),
        ("limit", limit),
        ("refit", refit),
        ("inspect", inspect),
        ("used", used),
        ("state", state),
        ("settings", settings),
    ):
        app.command(name)(command)


@items.command("add")
def item_add(
    context: typer.Context,
    code: Code,
    kind: Annotated[str, typer.Option(help="collet, sleeve, chuck, jaws, arbor, spindle, dividing head, insert.")] = (
        "other"
    ),
    size_: Annotated[str | None, typer.Option("--size", help="Nominal size; a bare number is mm.")] = None,
    bore: Annotated[str | None, typer.Option(help="Actual bore, if it is known.")] = None,
    closes_to: Annotated[str | None, typer.Option(help="The smallest diameter it may close on.")] = None,
    opens_to: Annotated[str | None, typer.Option(help="The largest diameter it may take.")] = None,
    grip: Annotated[str | None, typer.Option(help="Length of the grip.")] = None,
    slots: Annotated[int | None, typer.Option(help="Number of slots.")] = None,
    system: Annotated[str | None, typer.Option(help="Size system, as the trade calls it.")] = None,
    material: Annotated[str | None, typer.Option(help="Hard, soft, what it is made of.")] = None,
    place: Annotated[str | None, typer.Option(help="Drawer, row, place.")] = None,
    acquired: Annotated[str | None, typer.Option(help="When and from where.")] = None,
    price: Annotated[str | None, typer.Option(help="What a new one costs.")] = None,
    mark: Annotated[str | None, typer.Option(help="What is engraved on it.")] = None,
    made_to: MadeTo = None,
    note: Annotated[str | None, typer.Option(help="Anything worth remembering.")] = None,
    by: By = "",
) -> None:
    """Enter an item as received; for one that is known, write a newer card."""
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from qclog.records import Card

    store = target(context).open(create=True)
    with new_entry(store, "item add", by) as entry:
        register = Register(entry.connection)
        known = register.find(code)
        card = Card(
            kind=None if known and kind == "other" else kind,
            system=system,
            nominal_pm=size(size_),
            bore_pm=size(bore),
            range_low_pm=size(closes_to),
            range_high_pm=size(opens_to),
            grip_length_pm=size(grip),
            slots=slots,
            material=material,
            place=place,
            acquired=acquired,
            price=price,
            mark=mark,
            note=note,
        )
        if known is not None and known.kind == "item":
            registering.write_card(entry, register, known, card)
            for one in _limits(register, made_to):
                number = register.newest_modification(known).number
                registering.set_limit(entry, register, known, number, one)
            say(f"{known.text}: newer card written.")
        else:
            item = registering.add_item(entry, register, code, card, _limits(register, made_to))
            say(f"{item.text} entered as received.")


@items.command("list")
def item_list(context: typer.Context, as_json: Json = False) -> None:
    """All items: kind, size, modification, state."""
    from qclog.logbook.owned import read_owned
    from reports.cards import items_document, items_text

    with target(context).open().reading() as connection:
        owned = list(read_owned(connection).values())
    if as_json:
        tell_json(items_document(owned))
    else:
        tell(items_text(owned))


@items.command("show")
def item_show(context: typer.Context, code: Code, as_json: Json = False) -> None:
    """One item: its card, what was done to it, its limits, and its clampings with their numbers."""
    from qclog.cli.common import number_style
    from qclog.logbook.life import read_life
    from reports.cards import life_document, life_text

    store = target(context).open()
    with store.reading() as connection:
        life = read_life(connection, code)
    if as_json:
        tell_json(life_document(life))
    else:
        tell(life_text(life, number_style(store)))


@setups.command("add")
def setup_add(
    context: typer.Context,
    code: Code,
    parts: Annotated[
        str, typer.Option(metavar="CODES", help='Its chain from the spindle outward: "S-1,T-1,K-1" (items).')
    ] = "",
    positions: Annotated[str, typer.Option(metavar="NAMES", help='Its key positions: "A,B" or "A,B,A then B".')] = "",
    counterclockwise: Annotated[
        bool, typer.Option("--counterclockwise", help="Angles are read the other way round (facing the nose).")
    ] = False,
    made_to: MadeTo = None,
    by: By = "",
) -> None:
    """Enter a setup; for one that is known, add key positions."""
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    store = target(context).open(create=True)
    with new_entry(store, "setup add", by) as entry:
        register = Register(entry.connection)
        known = register.find(code)
        if known is not None and known.kind == "setup" and not parts:
            registering.add_positions(entry, register, known, _listed(positions))
            for one in _limits(register, made_to):
                registering.set_limit(entry, register, known, 0, one)
            say(f"{known.text} has the key positions {', '.join(register.positions(known.id)) or 'none'}.")
            return
        setup = registering.add_setup(
            entry,
            register,
            code,
            links=_listed(parts),
            positions=_listed(positions),
            sense="counterclockwise" if counterclockwise else "clockwise",
            limits=_limits(register, made_to),
        )
        at = f", key positions {', '.join(register.positions(setup.id))}" if positions else ""
        say(f"Setup {setup.text} entered{at}.")


@setups.command("list")
def setup_list(context: typer.Context, as_json: Json = False) -> None:
    """All setups: their parts, key positions and revisions."""
    from qclog.logbook.life import read_chains
    from reports.cards import setups_document, setups_text

    with target(context).open().reading() as connection:
        chains = read_chains(connection)
    if as_json:
        tell_json(setups_document(chains))
    else:
        tell(setups_text(chains))


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
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(create=True), "pin add", by) as entry:
        register = Register(entry.connection)
        pin = registering.add_pin(
            entry,
            register,
            code,
            diameter_pm=size(diameter) or 0,
            roundness_pm=error_size(roundness, register),
            kind=kind,
            grade=grade,
        )
        say(f"Pin {pin.text} entered.")


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
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(create=True), "instrument add", by) as entry:
        register = Register(entry.connection)
        instrument = registering.add_instrument(
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
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(), "instrument calibrate", by) as entry:
        register = Register(entry.connection)
        gauge = register.find(code)
        if gauge is None or gauge.kind not in ("instrument", "pin"):
            raise NotFoundError(f"There is no indicator or pin {code!r}.", "See: qclog instrument list")
        registering.add_calibration(
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


def modify(
    context: typer.Context,
    code: Code,
    what: Annotated[str, typer.Argument(help="What was done: bored, annealed, ground, slots cleared.")],
    size_: Annotated[str | None, typer.Option("--size", help="New size; a bare number is mm.")] = None,
    size_before: Annotated[str | None, typer.Option(help="Size before.")] = None,
    wall: Annotated[str | None, typer.Option(help="Wall left at the slot root.")] = None,
    held_by: Annotated[str, typer.Option(help="How it was held: pins in the face, shims in all slots.")] = "",
    in_setup: Annotated[str, typer.Option("--in", metavar="SETUP", help="The setup it was worked on in.")] = "",
    position: Annotated[str, typer.Option(help="The key position it was worked on at.")] = "",
    clocking: Annotated[str, typer.Option(help='How it was turned: "C-046=120".')] = "",
    torque: Annotated[str, typer.Option(help="Torque, or by feel.")] = "",
    made_to: MadeTo = None,
    only_there: Annotated[
        bool, typer.Option("--only-there", help="The limit applies only in the setup and position it was made in.")
    ] = False,
    on: On = None,
    note: Note = "",
    by: By = "",
) -> None:
    """Work done to an item that changes how it runs. Its history starts anew."""
    import dataclasses

    from qclog import times
    from qclog.errors import UsageError
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from qclog.notation import parse_clocking
    from qclog.records import Work

    if only_there and not in_setup:
        raise UsageError("--only-there needs the setup it was made in.", "Give it with --in.")
    with new_entry(target(context).open(), "modify", by) as entry:
        register = Register(entry.connection)
        item = register.need(code, "item")
        limits = _limits(register, made_to)
        if only_there:
            limits = [dataclasses.replace(one, setup=in_setup, position=position) for one in limits]
        work = Work(
            what=what,
            done_at=times.taken_at(on) if on else times.now(),
            size_before_pm=size(size_before),
            size_pm=size(size_),
            wall_pm=size(wall),
            held_by=held_by,
            holder=in_setup,
            position=position,
            clocking=parse_clocking(clocking) if clocking else (),
            torque=torque,
            note=note,
            limits=tuple(limits),
        )
        number, reopened = registering.modify(entry, register, item, work)
    say(f"{item.text}: {what}, modification {number}. Its history starts anew.")
    if in_setup:
        say(f"It is married to {in_setup}{f', position {position}' if position else ''}: measure it there.")
    for setup in reopened:
        say(f"Setup {setup} has {item.text} in its chain and got a new revision.")
    say("A modified item is no longer rated by its maker: inspect it, guard it, keep to the lowest speed limit.")


def limit(
    context: typer.Context,
    code: Annotated[str, typer.Argument(help="An item or a setup.")],
    limits: Annotated[list[str], typer.Argument(metavar="LIMIT...", help='"8um@16mm" (at 16 mm out), or "8um".')],
    setup: Annotated[str, typer.Option(help="Only in this setup.")] = "",
    position: Annotated[str, typer.Option(help="Only at this key position.")] = "",
    characteristic: Annotated[str, typer.Option(help="Of what: runout, face runout.")] = "runout",
    by: By = "",
) -> None:
    """What an item, as it is now, or a setup must hold."""
    import dataclasses

    from qclog.errors import NotFoundError
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(), "limit", by) as entry:
        register = Register(entry.connection)
        body = register.find(code)
        if body is None or body.kind not in ("item", "setup"):
            raise NotFoundError(f"There is no item or setup {code!r}.", "See: qclog item list")
        number = register.newest_modification(body).number if body.kind == "item" else 0
        if setup and position:
            position = registering.known_position(register, register.need(setup, "setup"), position)
        for one in _limits(register, limits):
            placed = dataclasses.replace(one, setup=setup, position=position, characteristic=characteristic)
            registering.set_limit(entry, register, body, number, placed)
        say(f"{body.text} must hold {', '.join(limits)}.")


def refit(
    context: typer.Context,
    setup: Annotated[str, typer.Argument(help="The setup.")],
    reason: Annotated[str, typer.Option(help="re-seated, exchanged, turned, crashed.")],
    exchange: Annotated[str, typer.Option(metavar="OLD=NEW", help="A part exchanged for another.")] = "",
    clocking: Annotated[str, typer.Option(help='How parts are turned now: "T-1=90".')] = "",
    on: On = None,
    by: By = "",
) -> None:
    """A change to a setup: a part re-seated, exchanged, turned, crashed. Its history starts anew."""
    from qclog import times
    from qclog.errors import UsageError
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from qclog.notation import parse_clocking

    old, equals, new = exchange.partition("=")
    if exchange and not (old and equals and new):
        raise UsageError(f"{exchange!r} does not say what was exchanged for what.", "Write --exchange K-1=K-2.")
    with new_entry(target(context).open(), "refit", by) as entry:
        register = Register(entry.connection)
        revision = registering.refit(
            entry,
            register,
            register.need(setup, "setup"),
            reason=reason,
            since=times.taken_at(on) if on else times.now(),
            exchange=(old, new) if exchange else None,
            clocking={code.casefold(): turned for code, turned in parse_clocking(clocking)} if clocking else None,
        )
        say(f"Setup {setup} is now at revision {revision.number} ({reason}). Measure again before relying on it.")


def inspect(
    context: typer.Context,
    code: Code,
    finding: Annotated[str, typer.Argument(help="crack, blue, bell-mouth, lost spring, slip, or sound.")],
    on: On = None,
    note: Note = "",
    by: By = "",
) -> None:
    """What was seen on an item. Cracked or blue: out of service whatever its run-out."""
    from qclog import times
    from qclog.errors import RefusedError
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from reports.wording import FINDING_ADVICE

    if finding == "sound" and not note:
        raise RefusedError("Finding an item sound again needs a reason.", "Say how you know with --note.")
    with new_entry(target(context).open(), "inspect", by) as entry:
        register = Register(entry.connection)
        item = register.need(code, "item")
        seen_on = times.taken_at(on) if on else times.now()
        registering.inspect_item(entry, register, item, finding=finding, seen_on=seen_on, note=note)
        say(f"{item.text}: {finding}. {FINDING_ADVICE[finding]}")


def used(
    context: typer.Context,
    code: Code,
    clampings: Annotated[int | None, typer.Option(help="How many clampings in work.")] = None,
    hours: Annotated[float | None, typer.Option(help="How many hours in work.")] = None,
    on: On = None,
    note: Note = "",
    by: By = "",
) -> None:
    """Work an item did."""
    from qclog import times
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(), "used", by) as entry:
        item = Register(entry.connection).need(code, "item")
        used_on = times.taken_at(on) if on else times.now()
        registering.record_use(entry, item, used_on=used_on, clampings=clampings, hours=hours, note=note)
        say(f"{item.text}: use noted.")


def state(
    context: typer.Context,
    code: Code,
    state_: Annotated[str, typer.Argument(metavar="STATE", help="in service, restricted, out, scrap.")],
    reason: Annotated[str, typer.Option(help="Why.")],
    to: Annotated[str | None, typer.Option(metavar="LIMIT", help="Restricted to this run-out, as 15um.")] = None,
    on: On = None,
    by: By = "",
) -> None:
    """What you decide about an item."""
    from qclog import times
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(), "state", by) as entry:
        register = Register(entry.connection)
        item = register.need(code, "item")
        registering.set_state(
            entry,
            register,
            item,
            state=state_,
            limit_pm=error_size(to, register),
            since=times.taken_at(on) if on else times.now(),
            reason=reason,
        )
        say(f"{item.text} is {state_}.")


def settings(
    context: typer.Context,
    unit: Annotated[str, typer.Option(help="Unit of bare numbers: um, mm, in, thou, tenths.")] = "",
    inch: Annotated[bool | None, typer.Option("--inch/--no-inch", help="Show the inch figure beside the µm.")] = None,
    by: By = "",
) -> None:
    """Settings of the whole logbook; without options, what they are."""
    from qclog.lengths import parse_unit
    from qclog.logbook import registering
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    changing = bool(unit) or inch is not None
    store = target(context).open(create=changing)
    if changing:
        with new_entry(store, "settings", by) as entry:
            register = Register(entry.connection)
            if unit:
                registering.change_setting(entry, register, "unit", parse_unit(unit))
            if inch is not None:
                registering.change_setting(entry, register, "inch", "yes" if inch else "no")
    with store.reading() as connection:
        register = Register(connection)
        tell(f"unit of bare numbers: {bare_unit(register)}")
        tell(f"inch beside µm: {register.setting('inch', 'no')}")


def _listed(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def _limits(register: "Register", texts: list[str] | None) -> list["Limit"]:
    from qclog.notation import parse_limit
    from qclog.records import EVERY_DISTANCE, Limit

    found = []
    for text in texts or ():
        upper, distance = parse_limit(text, bare=bare_unit(register))
        found.append(Limit(upper.picometres, distance.picometres if distance else EVERY_DISTANCE, text=text))
    return found
