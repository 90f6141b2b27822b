"""``backup`` and ``restore``: the whole corpus, shelf and practice log as one file, and back."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.files import ForceOption, target_of
from cli.options import DatabaseOption, database_at, database_place

if TYPE_CHECKING:
    from db.safekeeping import Holdings


def backup(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="Where the copy goes.")],
    force: ForceOption = False,
    db: DatabaseOption = None,
) -> None:
    """Copy the whole database to a file, checked; others may go on using it meanwhile.

    A backup holds the music you transcribed: mind the rights in it before you pass it on.

    Example:

      wellworn backup monday.db
    """
    from cli.output import tell
    from db.safekeeping import backup as back_up

    target = target_of(file, force)
    held = back_up(database_at(context, db), target, force)
    tell(f"{file}: {_words(held)}; the copy is checked")


def restore(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file that 'wellworn backup' wrote.")],
    force: Annotated[bool, typer.Option("--force", help="Put it in the place of the database that is there.")] = False,
    db: DatabaseOption = None,
) -> None:
    """Put a backup in the place of the database, checked; the one that was there is kept beside it.

    Example:

      wellworn restore monday.db --force
    """
    from cli.output import tell
    from db.location import database_url
    from db.safekeeping import restore as put_back

    restored = put_back(file.expanduser(), database_url(database_place(context, db)), force)
    tell(f"restored from {file}: {_words(restored.holdings)}")
    if restored.before is not None:
        tell(f"the database before is kept as {restored.before}: restore that to go back, remove it when all is well")
    if restored.schema:
        tell(
            f"the tables before are kept as schema {restored.schema}: they are a database of their own with "
            f"?options=-csearch_path%3D{restored.schema} after the URL; DROP SCHEMA … CASCADE when all is well"
        )


def _words(held: "Holdings") -> str:
    counted = (
        (held.transcriptions, "transcription", "transcriptions"),
        (held.notes, "note", "notes"),
        (held.figures, "kept figure", "kept figures"),
        (held.practice, "practice entry", "practice entries"),
    )
    return ", ".join(f"{count:,} {one if count == 1 else many}" for count, one, many in counted)
