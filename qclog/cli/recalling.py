"""The command for a gauge that is found wrong: what was read with it, and which verdicts would be others."""

from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import bare_unit, number_style, point_to, say, target, tell, tell_json
from qclog.cli.parameters import By, Json, Note, On

if TYPE_CHECKING:
    from qclog.logbook.engine import Store


def add_to(app: typer.Typer) -> None:
    app.command("recall")(recall)


def recall(
    context: typer.Context,
    gauge: Annotated[str | None, typer.Argument(help="An indicator or a pin; without it, all recalls.")] = None,
    found: Annotated[
        str, typer.Option(metavar="WHAT", help='What was found: "23 on 20" (it read 23 for 20), or in words.')
    ] = "",
    since: Annotated[
        str | None, typer.Option(metavar="DATE", help="Its last good check; without it, its last calibration before.")
    ] = None,
    clear: Annotated[
        str, typer.Option(metavar="REASON", help="What was read with it is in order after all, and why.")
    ] = "",
    item: Annotated[list[str] | None, typer.Option(metavar="CODE", help="Clear only this item. Repeat.")] = None,
    before: Annotated[
        str | None, typer.Option(metavar="DATE", help="Clear only what was read before this day.")
    ] = None,
    on: On = None,
    note: Note = "",
    as_json: Json = False,
    by: By = "",
) -> None:
    """A gauge is found wrong: which verdicts change?

    What was read with it since its last good check is in doubt until it is measured again with a good one, or cleared
    with a reason. Nothing that was logged is changed. Without --found or --clear, how it stands.
    """
    from qclog.errors import UsageError
    from qclog.questions import recall as question
    from reports import words_used
    from reports.recall import recall as text

    if (found or clear) and (gauge is None or (found and clear)):
        raise UsageError("Name one gauge, and either --found or --clear.", "See: qclog recall --help")
    if (item or before) and not clear:
        raise UsageError("--item and --before say what to clear.", 'Give the reason with --clear "why".')
    store = target(context).open()
    if gauge is not None and found:
        _found(store, gauge, found, on=on, since=since, note=note, by=by)
    if gauge is not None and clear:
        _clear(store, gauge, clear, items=item or [], before=before, by=by)
    answers = question.recall(store, gauge)
    if found:
        answers = answers[:1]
    if as_json:
        tell_json(question.document(answers))
    elif answers:
        tell(text(answers, number_style(store)))
        point_to(words_used.of_recall(answers))
    else:
        tell(f"{gauge or 'No gauge'} was {'never' if gauge else 'ever'} found wrong.")


def _found(store: "Store", gauge: str, found: str, *, on: str | None, since: str | None, note: str, by: str) -> None:
    from qclog import times
    from qclog.logbook import recalls
    from qclog.logbook.entries import new_entry
    from qclog.logbook.gauges import need_gauge
    from qclog.logbook.lookup import Register
    from qclog.notation import parse_read_on_true

    with new_entry(store, "recall", by) as entry:
        register = Register(entry.connection)
        named = need_gauge(register, gauge)
        card = register.instrument_card(named.id) if named.kind == "instrument" else None
        unit = bare_unit(register) if card is None or not card["unit"] else card["unit"]
        shown = None if card is None else parse_read_on_true(found, bare=unit)
        recalls.add_recall(
            entry,
            named,
            found_at=times.taken_at(on) if on else times.now(),
            found=found,
            since=times.taken_at(since) if since else None,
            read_pm=shown[0] if shown else None,
            true_pm=shown[1] if shown else None,
            note=note,
        )


def _clear(store: "Store", gauge: str, reason: str, *, items: list[str], before: str | None, by: str) -> None:
    from qclog import times
    from qclog.logbook import recalls
    from qclog.logbook.entries import new_entry
    from qclog.logbook.gauges import need_gauge
    from qclog.logbook.lookup import Register
    from reports.numbers import count

    with new_entry(store, "recall cleared", by) as entry:
        register = Register(entry.connection)
        named = need_gauge(register, gauge)
        wanted = [register.need(code, "item").id for code in items]
        day = times.taken_at(before) if before else ""
        cleared = recalls.clear(entry, named, reason, items=wanted, before=day)
    say(f"{count(cleared, 'clamping')} of {named.text} no longer in doubt.")
