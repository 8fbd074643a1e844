"""What was found when a logbook was looked through, kept, brought back or copied."""

import textwrap
from pathlib import Path
from typing import Final

from qclog.logbook.safekeeping.backing_up import Restored
from qclog.logbook.safekeeping.verifying import Check, Checked, Fault, Verified
from qclog.logbook.upgrading import Moved
from reports.numbers import count
from reports.tables import WIDTH

SOUND: Final = {
    Check.FILE: "the file's structure is sound",
    Check.RULE: "all {n} triggers that keep facts from being changed are in place",
    Check.LINKS: "every fact belongs to something that is there",
    Check.ENTRIES: "{n}, none missing, each as it was written",
    Check.FIGURES: "{n}, each that of its readings",
    Check.AGAINST: "every entry that it has is still here, with its digest",
}

REMEDIES: Final = {
    Check.FILE: "Leave the file as it is, and go back to a backup: qclog restore BACKUP",
    Check.RULE: "The guard was taken away: compare with a backup (qclog verify --against BACKUP). qclog copy into a "
    "new logbook puts it up again.",
    Check.LINKS: "Compare with a backup (qclog verify --against BACKUP), and go back to one: qclog restore BACKUP",
    Check.ENTRIES: "Something was changed, added or lost without the program. Find out who did what, or go back to a "
    "backup: qclog restore BACKUP",
    Check.FIGURES: "Where every entry is as it was written, compute them anew from their readings: qclog rebuild",
    Check.AGAINST: "Entries that were there are gone, or are others. Find out who did what, or go back to that backup.",
}

_ENTRY: Final = "{station} {sequence} ({what}, {at_utc}, by {who})"
FAULTS: Final = {
    Fault.UNREADABLE: "could not be looked through to the end: {what}",
    Fault.STRUCTURE: "{what}",
    Fault.TRIGGER_MISSING: "{trigger} is missing",
    Fault.TRIGGER_CHANGED: "{trigger} is not what it was, or switched off",
    Fault.TRIGGER_STRANGE: "{trigger} is none of the program's",
    Fault.NO_OWNER: "{rows} of {table}, first row {row}: the same {column}, which points to nothing",
    Fault.GAP: f"{_ENTRY}: the one before it is number {{after}}, something is missing",
    Fault.NOT_SEALED: f"{_ENTRY}: has no digest",
    Fault.CHANGED: f"{_ENTRY}: it, or a fact of it, is not what was written",
    Fault.CHAIN: f"{_ENTRY}: was not written after the one that stands before it",
    Fault.STRAY: "{rows} of {table}, from row {row} on: belong to no entry, or stand in another's place",
    Fault.FIGURE_WRONG: "{item}, clamping {clamping}, turn {turn}: not what its readings give",
    Fault.FIGURE_MISSING: "{item}, clamping {clamping}, turn {turn}: missing",
    Fault.FIGURE_STRANGE: "turn {turn}: there are no readings for it",
    Fault.CUT_OFF: "{station}: the backup goes to entry {sequence}, the logbook to {last}",
    Fault.OTHER_HISTORY: "{station}: entry {sequence} and those before it are not those of the backup",
}

_LAST_DIGITS: Final = (
    "{n} figures differ from their readings' in the last digits only, as figures do that another kind of processor "
    "computed. No answer changes."
)
_NOTE: Final = (
    "The digest of a station's last entry stands for all of them. A logbook that was cut short agrees with itself: it "
    "is told by a digest noted elsewhere, or by qclog verify --against an earlier BACKUP."
)


def looked_through(found: Verified) -> str:
    """What is wrong, or that nothing is; then each check, what to do, and the last digest of every station."""
    wrong = sum(check.wrong for check in found.checks)
    lines = [f"{found.logbook}: {count(wrong, 'FAULT', 'FAULTS') if wrong else 'NOTHING WRONG'}.", ""]
    for check in found.checks:
        lines += _check(check)
    if found.heads:
        wide = max(len(head.station) for head in found.heads)
        lines += ["", f"  {'station':{max(wide, 7)}}  entries  digest of the last"]
        lines += [f"  {head.station:{max(wide, 7)}}  {head.sequence:7}  {head.digest}" for head in found.heads]
        lines += ["", *_wrapped(_NOTE, "")]
    return "\n".join(lines)


def _check(found: Checked) -> list[str]:
    title = "  " + f"{found.check}".ljust(9)
    if not found.wrong:
        lines = [title + SOUND[found.check].format(n=f"{found.looked_at:,}")]
    else:
        lines = [title + f"{count(found.wrong, 'FAULT', 'FAULTS')}"]
        for one in found.findings:
            lines += _wrapped(FAULTS[one.fault].format(**one.where) + ".", " " * 13, "           - ")
        if found.wrong > len(found.findings):
            lines.append(f"           - ... and {found.wrong - len(found.findings)} more.")
        lines += _wrapped(REMEDIES[found.check], " " * 11)
    if found.last_digits:
        lines += _wrapped(_LAST_DIGITS.format(n=f"{found.last_digits:,}"), " " * 11)
    return lines


def _wrapped(text: str, indent: str, first: str | None = None) -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def kept(path: Path, found: Verified) -> str:
    """That a backup was made, and how it was found."""
    if not found.sound:
        return f"{path}: {_entries(found)}. The logbook has faults, and so has this backup:\n"
    return f"{path}: {_entries(found)}, looked through and found sound."


def restored(done: Restored) -> str:
    """What was brought back, and where that is kept which was there."""
    lines = [f"The logbook is that of {done.verified.logbook} again: {_entries(done.verified)}."]
    if done.kept:
        lines.append(f"What was there before is kept in {done.kept}.")
    if done.lost:
        lines.append(
            f"{count(done.lost, 'entry', 'entries')} of it {'is' if done.lost == 1 else 'are'} only in that file now."
        )
    return "\n".join(lines)


def copied(found: Verified) -> str:
    """That a copy was made and is sound."""
    return f"{found.logbook}: {_entries(found)} copied, looked through and found sound."


def moved(done: Moved) -> str:
    """That an older logbook was moved to the newest schema when it was opened."""
    return f"The logbook was made by an older qclog and now has the newest tables; as it was before: {done.backup}"


def _entries(found: Verified) -> str:
    number = sum(check.looked_at for check in found.checks if check.check is Check.ENTRIES)
    stations = f" of {len(found.heads)} stations" if len(found.heads) > 1 else ""
    return f"{count(number, 'entry', 'entries')}{stations}"
