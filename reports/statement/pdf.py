"""A statement as a PDF: what is stated first, then what it rests on, the signature, and every clamping."""

import datetime
from collections.abc import Sequence
from typing import Final

from fpdf.enums import Align, XPos, YPos

from qclog.errors import RefusedError
from qclog.questions.codes import NotForIssue
from qclog.questions.stating.statement import Statement, SwingStatement, digest, document
from reports.numbers import METRIC, NumberStyle, date
from reports.statement import figures, picture, texts, value_figures
from reports.statement.paper import HEADING, LEFT, LINE, NO_SIGN, SMALL, WIDTH, Paper, shown
from reports.statement.words import words

STATEMENT, READINGS = "statement.json", "readings.csv"
"""The names of the files attached."""
_LATER: Final = "A draft: it has no number and is not kept in the logbook."
Rows = list[tuple[str, str]]
_EPOCH: Final = datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC)
_VERDICT: Final = 17.0
_SIGNATURE: Final = 22.0
_SIGNED: Final = 85.0
_DECIDED: Final = 46.0
_TWO_LINES: Final = 10.0
_TOGETHER: Final = 12
"""A list of so many lines is kept on one page."""


def pdf(statement: Statement, readings: str, style: NumberStyle = METRIC) -> bytes:
    """The statement as it is issued; ``readings`` in the exchange form. The same statement gives the same bytes.

    Raises RefusedError for a name that the lettering has no sign for.
    """
    for what, name in (
        ("receiver", statement.signed.receiver),
        ("workshop", statement.signed.issuer),
        ("person who signs", statement.signed.signed_by),
    ):
        if NO_SIGN in shown(name):
            odd = next(sign for sign in name if shown(sign) == NO_SIGN)
            raise RefusedError(f"The lettering has no sign {odd!r}, which the {what} is written with.", "Spell it out.")
    return _made(statement, readings, style, ())


def draft(statement: Statement, readings: str, against: Sequence[NotForIssue], style: NumberStyle = METRIC) -> bytes:
    """The same, marked NOT FOR ISSUE on every page, with what speaks against issuing it."""
    return _made(statement, readings, style, texts.against(against, statement) or [_LATER])


def _made(statement: Statement, readings: str, style: NumberStyle, against: Sequence[str]) -> bytes:
    content, at = document(statement), _at(statement.signed.issued_at)
    known = digest(content)
    paper = Paper(
        f"{texts.numbered(statement)} · {shown(statement.item.code)} · {shown(statement.signed.issuer)}".rstrip(" ·"),
        f"Not to be reproduced except in full. The results relate only to the item measured. Digest {known[:16]}",
        against,
    )
    paper.about(texts.title(statement), statement.signed.issuer, at)
    _opening(paper, statement, style)
    for heading, rows in (
        ("The item", texts.item(statement, style)),
        (texts.where(statement), texts.place(statement, style)),
        ("Measured with", texts.gauges(statement, style)),
        ("How it was measured", texts.method(statement)),
    ):
        paper.heading(heading)
        paper.rows(rows)
    paper.heading("Results", keeps=picture.HEIGHT + 10)
    picture.draw(paper, statement)
    results, decision, listed = _figures(statement, style)
    paper.rows(results)
    paper.heading("How it was decided", keeps=_DECIDED)
    paper.rows(decision)
    _closing(paper, statement, known)
    paper.heading("Every clamping" if isinstance(statement, SwingStatement) else "Every reading")
    paper.listed(*listed)
    if statement.struck:
        paper.heading(
            "Struck out, and counted for nothing", keeps=LINE * min(max(5, 2 + len(statement.struck)), _TOGETHER)
        )
        paper.listed(*figures.struck(statement))
    paper.heading("What the words mean")
    for word, meaning in words(statement):
        paper.paragraph(f"{word}: {meaning}.", SMALL, below=0.1)
    paper.count_pages()
    for name, data, kind, relation, what in (  # in the order of their names, as a name tree has to be
        (READINGS, readings.encode(), "text/csv", "Data", "The readings it rests on"),
        (STATEMENT, content, "application/json", "Source", "What is stated"),
    ):
        paper.embed_file(
            bytes=data,
            basename=name,
            mime_type=kind,
            associated_file_relationship=relation,
            modification_date=at,
            desc=what,
            compress=True,
        )
    return bytes(paper.output())


def _figures(statement: Statement, style: NumberStyle) -> tuple[Rows, Rows, figures.Listed]:
    """The results, how it was decided, and the list of all that was read."""
    if isinstance(statement, SwingStatement):
        listed = figures.clampings(statement, style)
        return figures.results(statement, style), figures.decision(statement, style), listed
    listed = value_figures.readings(statement, style)
    return value_figures.results(statement, style), value_figures.decision(statement, style), listed


def _opening(paper: Paper, statement: Statement, style: NumberStyle) -> None:
    signed, group = statement.signed, statement.result
    paper.letters(SMALL)
    paper.set_x(LEFT)
    paper.cell(WIDTH, 4, "Measurement report", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    paper.letters(19, bold=True)
    paper.cell(WIDTH, 9, "Statement of conformity", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    paper.gap(1)
    paper.paragraph(texts.subject(statement), HEADING, bold=True)
    paper.gap(1)
    paper.rows(
        [
            (name, text)
            for name, text in (
                ("Number", f"{texts.numbered(statement)}. {texts.replaced(statement)}".strip()),
                ("Date", date(signed.issued_at) if signed.issued_at else ""),
                ("Issued by", signed.issuer),
                ("For", signed.receiver),
            )
            if text
        ]
    )
    paper.gap(4)
    _frame(paper, statement, style)
    paper.gap(3)
    for name, what, told in texts.three_verdicts(statement):
        paper.letters(bold=what.endswith(texts.STATED))
        paper.set_x(LEFT)
        paper.cell(32, LINE + 0.6, name)
        paper.cell(WIDTH - 72, LINE + 0.6, what)
        paper.cell(40, LINE + 0.6, told, align=Align.R, new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        paper.rule(paper.get_y())
    if group.caveats:
        paper.gap(1)


def _frame(paper: Paper, statement: Statement, style: NumberStyle) -> None:
    """The verdict, to be read from an arm's length."""
    said = texts.says(statement, style)
    paper.letters()
    lines = paper.broken(said, WIDTH - 12)
    top, tall = paper.get_y(), 6 + 9 + LINE * len(lines) + 3
    paper.set_line_width(0.8)
    paper.rect(LEFT, top, WIDTH, tall)
    paper.set_xy(LEFT + 6, top + 4)
    paper.letters(_VERDICT, bold=True)
    paper.cell(WIDTH - 12, 9, texts.stamp(statement, style))
    paper.letters()
    for number, line in enumerate(lines):
        paper.set_xy(LEFT + 6, top + 14 + LINE * number)
        paper.cell(WIDTH - 12, LINE, line)
    paper.set_y(top + tall)


def _closing(paper: Paper, statement: Statement, known: str) -> None:
    """What limits it, how long it is good for, the cautions, and the place for the signature."""
    paper.heading("What limits it, and where it is valid", keeps=_TWO_LINES)
    for line in (*texts.caveats(statement), *texts.validity(statement)):
        paper.paragraph(line)
    paper.paragraph(texts.attached(known), SMALL)
    paper.heading("Cautions", keeps=20)
    for line in texts.cautions():
        paper.paragraph(line, SMALL)
    signed = statement.signed
    paper.gap(2)
    paper.letters(SMALL)
    place_and_date = f"Place and date; for {signed.issuer}" if signed.issuer else "Place and date"
    columns = [
        (LEFT, _SIGNED, paper.broken(f"Signature: {signed.signed_by}".rstrip(": "), _SIGNED)),
        (LEFT + _SIGNED + 10, WIDTH - _SIGNED - 10, paper.broken(place_and_date, WIDTH - _SIGNED - 10)),
    ]
    below = 4.0 * max(len(lines) for _, _, lines in columns)
    paper.keep(_SIGNATURE + below)
    paper.gap(_SIGNATURE - 8)
    at = paper.get_y()
    for left, wide, lines in columns:
        paper.set_line_width(0.25)
        paper.line(left, at, left + wide, at)
        for number, line in enumerate(lines):
            paper.set_xy(left, at + 0.5 + 4 * number)
            paper.cell(wide, 4, line)
    paper.set_y(at + below + 2)


def _at(issued_at: str) -> datetime.datetime:
    """When it was issued, as a time of the file; a time without offset is taken as UTC."""
    if not issued_at:
        return _EPOCH
    found = datetime.datetime.fromisoformat(issued_at)
    return found if found.tzinfo else found.replace(tzinfo=datetime.UTC)
