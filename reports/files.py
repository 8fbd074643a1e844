"""Files as they are handed over: whole, or not there at all."""

import contextlib
import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from qclog.errors import RefusedError


def write(path: Path, content: str | bytes) -> None:
    """Write a file, text as UTF-8; one that is there already is replaced only by the whole new one.

    Folders on the way are made. Raises RefusedError.
    """
    with set_aside(path, content) as put_in_place:
        put_in_place()


@contextlib.contextmanager
def set_aside(path: Path, content: str | bytes) -> Iterator[Callable[[], None]]:
    """Write a file beside its place, under a hidden name; what is given puts it there. Else it is gone at the end.

    Raises RefusedError, and so does what is given.
    """
    with _told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem[:40]}-", suffix=".part")
    aside = Path(name)

    def put_in_place() -> None:
        with _told(path):
            aside.replace(path)

    try:
        with _told(path):
            with os.fdopen(handle, "wb") as file:
                file.write(content.encode() if isinstance(content, str) else content)
            aside.chmod(0o644)
        yield put_in_place
    finally:
        aside.unlink(missing_ok=True)


@contextlib.contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise RefusedError(
            f"{path} cannot be written: {error.strerror or error}.", "Name another place with --to."
        ) from error
