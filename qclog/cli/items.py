"""Commands for items: collets, sleeves, chucks, jaws and the like."""

from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import limits_of, say, size, target, tell, tell_json, warn_of_look_alikes
from qclog.cli.parameters import By, Code, Json, MadeTo

if TYPE_CHECKING:
    from qclog.records import Limit

commands = typer.Typer(help="Items: collets, sleeves, chucks, jaws and the like.", no_args_is_help=True)


def add_to(app: typer.Typer) -> None:
    app.add_typer(commands, name="item")


@commands.command("add")
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
    picture: Annotated[str | None, typer.Option(metavar="FILE", help="The file of a picture of it.")] = None,
    made_to: MadeTo = None,
    note: Annotated[str | None, typer.Option(help="Anything worth remembering.")] = None,
    by: By = "",
) -> None:
    """Enter an item as received, or a newer card of it."""
    from qclog.logbook import items, noting
    from qclog.logbook.entries import new_entry
    from qclog.logbook.limits import set_limit
    from qclog.logbook.lookup import Register
    from qclog.particulars import PICTURE, parse
    from qclog.records import Card
    from reports.cards import changed_card
    from reports.cards import made_to as limit_text

    store = target(context).open(create=True)
    with new_entry(store, "item add", by) as entry:
        register = Register(entry.connection)
        known = register.find(code)
        noted = [] if picture is None else [parse(f"{PICTURE}={picture}", ["item"])]
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
            before = dict(register.item_card(known.id) or {})
            items.write_card(entry, register, known, card)
            changed = changed_card(before, dict(register.item_card(known.id) or {}))
            number = register.newest_modification(known).number
            standing = {one[1:7] for one in register.limits(known.id) if one.modification_number == number}
            new = [one for one in limits_of(register, made_to) if _key(one) not in standing]
            for one in new:
                set_limit(entry, register, known, number, one)
            noting.note(entry, register, known, noted)
            made = [f"made to {limit_text(one)}" for one in new]
            changed = "; ".join(part for part in (changed, *made, picture and f"picture {picture}") if part)
            said = f"newer card: {changed}" if changed else "nothing new on its card"
            say(f"{known.text} is known already; {said}.")
        else:
            item = items.add_item(entry, register, code, card, limits_of(register, made_to))
            noting.note(entry, register, item, noted)
            say(f"{item.text} entered as received.")
            warn_of_look_alikes(register, item.text)


def _key(limit: "Limit") -> tuple[object, ...]:
    """A limit as the logbook has it that counts in all setups and positions."""
    return limit.characteristic, limit.distance_pm, None, "", limit.upper_pm, limit.lower_pm


@commands.command("list")
def item_list(context: typer.Context, as_json: Json = False) -> None:
    """All items, and who has those that are out.

    Each with its kind, size, modification and state.
    """
    from qclog.logbook.custody import read_out
    from qclog.logbook.owned import read_owned
    from reports.cards import items_document, items_text

    with target(context).open().reading() as connection:
        owned, out = list(read_owned(connection).values()), read_out(connection)
    if as_json:
        tell_json(items_document(owned, out))
    else:
        tell(items_text(owned, out))


@commands.command("show")
def item_show(context: typer.Context, code: Code, as_json: Json = False) -> None:
    """One item: its card and all that was done to it.

    Its limits too, and its clampings with their numbers.
    """
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
