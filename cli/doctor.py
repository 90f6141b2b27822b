"""``doctor``: is everything in the database as it should be? and ``--repair``."""

from typing import TYPE_CHECKING, Annotated

import typer

from cli.options import DatabaseOption, database_at

if TYPE_CHECKING:
    from db.connection import Database
    from db.examine import Diagnosis
    from db.made import Trouble

_MOST_LINES = 1000
_ROUNDS = 2  # what hung on a lost row can only be compared when that is mended


def doctor(
    context: typer.Context,
    repair: Annotated[
        bool, typer.Option("--repair", help="Make again what follows from the notes; drop outdated families.")
    ] = False,
    all_lines: Annotated[
        bool, typer.Option("--all", help=f"Compare all lines, not {_MOST_LINES:,} at random; --repair does.")
    ] = False,
    rebuild: Annotated[
        bool, typer.Option("--rebuild-index", help="Make all search indexes again from the readings, then look.")
    ] = False,
    db: DatabaseOption = None,
) -> None:
    """Look whether the database is sound: the file, its indexes, readings against notes, rows that hang on nothing.

    Notes, titles, the shelf and the practice log are never changed by a repair; back up first all the same. Exit code
    1 when something wrong is left.

    Examples:

      wellworn doctor

      wellworn doctor --repair

      wellworn doctor --rebuild-index --all
    """
    from cli.families import progress_bar
    from db.examine import examine
    from db.mend import mend

    database = database_at(context, db)
    if rebuild:
        _rebuild(database)
    most = None if all_lines or repair else _MOST_LINES
    with progress_bar("comparing") as progress:
        found = examine(database, most, progress)
    _tell(found, can_be_repaired=not repair)
    if repair and any(trouble.is_mendable for trouble in found.troubles):
        for _ in range(_ROUNDS):
            mend(database, found.troubles)
            found = examine(database, most)
        _tell_left(found)
    if not found.is_well:
        raise typer.Exit(1)


def _rebuild(database: "Database") -> None:
    from cli.output import tell
    from db.mend import rebuild_indexes

    with database.writing() as connection:
        rebuild_indexes(connection)
    tell("the search indexes are made again from the readings")


def _tell(found: "Diagnosis", can_be_repaired: bool) -> None:
    from cli.output import say, tell

    for trouble in found.troubles:
        say(_words(trouble))
    if not found.troubles:
        say("everything is as it should be")
    elif can_be_repaired and any(trouble.is_mendable for trouble in found.troubles):
        tell("what is marked * can be repaired: wellworn doctor --repair")
    more = "" if found.compared == found.line_count else " (chosen at random; --all compares every one)"
    tell(f"{found.compared:,} of {found.line_count:,} transcriptions made again and compared{more}")


def _tell_left(found: "Diagnosis") -> None:
    from cli.output import say

    say("repaired; " + ("left:" if found.troubles else "everything is as it should be"))
    for trouble in found.troubles:
        say(_words(trouble))


def _words(trouble: "Trouble") -> str:
    return f"{'*' if trouble.is_mendable else ' '} {'wrong' if trouble.is_wrong else 'note'}: {trouble.words}"
