"""Taking the attachments out of a PDF that somebody hands in, whatever it is.

Names in the file are only compared, never used; what is unpacked is bounded by the library.
"""

import logging
from pathlib import Path
from typing import Final

from qclog.errors import NotFoundError, RefusedError
from qclog.questions.stating.checking import Handed
from qclog.questions.stating.statement import digest
from reports.statement.pdf import READINGS, STATEMENT

LARGEST_FILE: Final = 32 * 2**20
_BEGINNING: Final = 1024
_PDF: Final = b"%PDF-"


def handed(path: Path) -> Handed:
    """What a file carries. Raises NotFoundError where there is none, RefusedError where it is no statement."""
    content = _content(path)
    found = _attached(path, content)
    for name in (STATEMENT, READINGS):
        if len(found.get(name, ())) != 1:
            raise RefusedError(f"{path.name} carries no statement of a logbook.", "Name the PDF as it was issued.")
    return Handed(digest(content), found[STATEMENT][0], found[READINGS][0])


def _content(path: Path) -> bytes:
    if not path.exists():
        raise NotFoundError(f"There is no file {path}.", "Name the PDF of a statement.")
    if path.is_dir():
        raise RefusedError(f"{path} is a folder.", "Name the PDF of a statement.")
    with path.open("rb") as file:
        content = file.read(LARGEST_FILE + 1)
    if len(content) > LARGEST_FILE:
        raise RefusedError(f"{path.name} is too large for a statement.", "Name the PDF as it was issued.")
    if _PDF not in content[:_BEGINNING]:
        raise RefusedError(f"{path.name} is no PDF.", "Name the PDF as it was issued.")
    return content


def _attached(path: Path, content: bytes) -> dict[str, list[bytes]]:
    """The attachments that a statement has, by name. A damaged file may fail in any way."""
    import io

    import pypdf

    logger = logging.getLogger("pypdf")
    before = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    try:
        reader = pypdf.PdfReader(io.BytesIO(content))
        if reader.is_encrypted:
            raise RefusedError(f"{path.name} is locked with a password.", "A statement is never; name it as issued.")
        attachments = reader.attachments
        return {name: list(attachments[name]) for name in (STATEMENT, READINGS) if name in attachments}
    except RefusedError:
        raise
    except Exception as error:
        raise RefusedError(f"{path.name} is a damaged PDF: it cannot be read.", "Ask for it again.") from error
    finally:
        logger.setLevel(before)
