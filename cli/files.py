"""Files that commands write: whole or not at all, and never over another one unasked."""

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from cli.options import OUTPUT_PANEL
from corpus.errors import QueryError, SystemTroubleError

ForceOption = Annotated[
    bool, typer.Option("--force", help="Write over files that are there already.", rich_help_panel=OUTPUT_PANEL)
]


def check_target(target: Path, force: bool) -> None:
    """Raises QueryError when a file must not be written there: it exists and ``force`` is not given, or is a folder."""
    if target.is_dir():
        raise QueryError(f"{target} is a folder: name a file")
    if target.exists() and not force:
        raise QueryError(f"{target} exists already: give another name, or --force to write over it")


def target_of(name: str, force: bool) -> Path:
    """The path of a name that a user typed, checked before the work begins.

    Raises QueryError as ``check_target``, and for a missing folder or a name that the system forbids.
    """
    path = Path(name).expanduser()
    try:
        check_target(path, force)
        if not path.parent.is_dir():
            raise QueryError(f"{name} cannot be written: there is no folder {path.parent}")
    except (OSError, ValueError) as error:
        raise QueryError(f"{name[:80]!r} cannot be a file name here: give another") from error
    return path


def write_file(target: Path, data: bytes, force: bool) -> None:
    """Write a file beside its place and move it there when it is complete.

    Raises QueryError as ``check_target``, SystemTroubleError when the folder is missing, read-only or full.
    """
    write_files({target: data}, force)


def write_files(contents: Mapping[Path, bytes], force: bool) -> None:
    """Write several files, as ``write_file``; all are complete beside their places before the first is moved."""
    waiting: dict[Path, Path] = {}
    target = Path()
    try:
        for target, data in contents.items():
            check_target(target, force)
            with tempfile.NamedTemporaryFile(dir=target.parent, prefix=f".{target.name[:40]}-", delete=False) as file:
                waiting[target] = Path(file.name)
                file.write(data)
            waiting[target].chmod(0o666 & ~_umask())
        for target in list(waiting):
            waiting[target].replace(target)
            del waiting[target]
    except OSError as error:
        raise SystemTroubleError(f"{target} cannot be written ({error.strerror}): choose another place") from error
    finally:
        for left in waiting.values():
            left.unlink(missing_ok=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
