"""Files as they are handed over: whole, or not there at all."""

import os
import tempfile
from pathlib import Path

from qclog.errors import RefusedError


def write(path: Path, content: str | bytes) -> None:
    """Write a file, text as UTF-8; one that is there already is replaced only by the whole new one.

    Folders on the way are made. Raises RefusedError.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem[:40]}-", suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content.encode() if isinstance(content, str) else content)
            Path(name).chmod(0o644)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise RefusedError(
            f"{path} cannot be written: {error.strerror or error}.", "Name another place with --to."
        ) from error
