"""Files that commands write: whole or not at all, and never over another one unasked."""

import os
import tempfile
from pathlib import Path

from corpus.errors import QueryError, SystemTroubleError


def check_target(target: Path, force: bool) -> None:
    """Raises QueryError when a file must not be written there: it exists and ``force`` is not given, or is a folder."""
    if target.is_dir():
        raise QueryError(f"{target} is a folder: name a file")
    if target.exists() and not force:
        raise QueryError(f"{target} exists already: give another name, or --force to write over it")


def write_file(target: Path, data: bytes, force: bool) -> None:
    """Write a file beside its place and move it there when it is complete.

    Raises QueryError as ``check_target``, SystemTroubleError when the folder is missing, read-only or full.
    """
    check_target(target, force)
    name = ""
    try:
        with tempfile.NamedTemporaryFile(dir=target.parent, prefix=f".{target.name[:40]}-", delete=False) as file:
            name = file.name
            file.write(data)
        Path(name).chmod(0o666 & ~_umask())
        Path(name).replace(target)
    except OSError as error:
        if name:
            Path(name).unlink(missing_ok=True)
        raise SystemTroubleError(f"{target} cannot be written ({error.strerror}): choose another place") from error


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
