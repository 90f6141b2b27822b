"""What ``add`` says about what is kept: places of the shelf's figures in the lines added, and families made again."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from db.connection import Database

_LINES_SHOWN = 6
Places = dict[str, dict[int, int]]


def shelf_places(database: "Database", names: "Sequence[str]") -> Places:
    """How often each kept figure stands in the lines stored under names of files, before these are replaced."""
    if not names:
        return {}
    from db.shelf import ids_of_files, load_shelf, places_in

    with database.reading() as connection:
        return places_in(connection, load_shelf(connection), ids_of_files(connection, names))


def tell_new_places(database: "Database", before: Places, ids: "Sequence[int]") -> None:
    """Tell where kept figures stand in lines just added; in a line that was replaced only what is more than before."""
    from cli.output import tell
    from cli.shelf_words import count_of
    from db.shelf import load_shelf, places_in

    if not ids:
        return
    with database.reading() as connection:
        found = places_in(connection, load_shelf(connection), ids)
    for name, places in found.items():
        known = before.get(name, {})
        new = {identity: count - known.get(identity, 0) for identity, count in places.items()}
        new = {identity: count for identity, count in new.items() if count > 0}
        if new:
            lines = ", ".join(map(str, sorted(new)[:_LINES_SHOWN])) + (", …" if len(new) > _LINES_SHOWN else "")
            where = f"line{'' if len(new) == 1 else 's'} {lines}"
            tell(f"{count_of(sum(new.values()), 'new place')} for {name!r} ({where})")


def tell_refreshed(database: "Database", ids: "Sequence[int]") -> None:
    """Bring families that ``recur`` keeps up to the lines just added, and tell what was done."""
    from cli.output import tell
    from cli.shelf_words import count_of
    from db.refresh import refresh

    if not ids:
        return
    done = refresh(database, ids)
    if done.again:
        tell(f"{count_of(done.again, 'kept answer')} of 'recur' brought up to these lines")
    if done.left:
        tell(f"{count_of(done.left, 'kept answer')} of 'recur' out of date: found again when next asked for")
