"""Writing files that a user names: nothing is overwritten unasked, and nothing is left half written."""

import contextlib
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from cli.options import OUTPUT_PANEL
from corpus.errors import QueryError, SystemTroubleError

ForceOption = Annotated[
    bool, typer.Option("--force", help="Replace files that are there already.", rich_help_panel=OUTPUT_PANEL)
]


def target_of(name: str, force: bool) -> Path:
    """The path to write to, checked before the work begins.

    Raises QueryError when something is there already (a file without ``force``, anything but a file with it), or when
    its folder is missing.
    """
    path = Path(name).expanduser()
    try:
        if path.is_dir() or (path.exists() and not path.is_file()):
            raise QueryError(f"{name} is no file: give the name of a file to write")
        if path.exists() and not force:
            raise QueryError(f"{name} is there already: --force replaces it")
        if not path.parent.is_dir():
            raise QueryError(f"{name} cannot be written: there is no folder {path.parent}")
    except (OSError, ValueError) as error:  # a name too long, or one the system forbids
        raise QueryError(f"{name[:80]!r} cannot be a file name here: give another") from error
    return path


def write_files(contents: Mapping[Path, bytes], force: bool = True) -> None:
    """Write files under temporary names beside their targets, then rename them all.

    Raises QueryError as ``target_of``, SystemTroubleError when the system refuses; then no target has changed.
    """
    for path in contents:
        # What has come there meanwhile is kept too.
        target_of(str(path), force)
    waiting: dict[Path, Path] = {}
    try:
        for path, data in contents.items():
            handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)
            waiting[path] = Path(name)
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            Path(name).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
        for path in list(waiting):
            waiting[path].replace(path)
            del waiting[path]
    except OSError as error:
        raise SystemTroubleError(
            f"{path} cannot be written ({error.strerror or error}): choose a folder that you may write to"
        ) from error
    finally:
        for left in waiting.values():
            with contextlib.suppress(OSError):
                left.unlink()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
