"""``page``: a lesson as one HTML file: a line, a family or a player, with notation, explanations and sound."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.export import ConcertOption
from cli.files import ForceOption, target_of, write_files
from cli.options import OUTPUT_PANEL, DatabaseOption, database_at
from corpus.errors import QueryError

if TYPE_CHECKING:
    from db.connection import Database

_LARGEST_ID = 2**62
OutOption = Annotated[
    str | None,
    typer.Option("--out", metavar="FILE", help="Where to (else named after it).", rich_help_panel=OUTPUT_PANEL),
]
TextOption = Annotated[
    str | None,
    typer.Option("--notes", metavar="FILE", help="Your own text, in Markdown.", rich_help_panel=OUTPUT_PANEL),
]
RIGHTS = "Mind the rights in the music."


def page(
    context: typer.Context,
    identity: Annotated[
        int | None, typer.Argument(metavar="[ID]", min=1, max=_LARGEST_ID, help="A transcription.", show_default=False)
    ] = None,
    family: Annotated[
        str | None, typer.Option("--family", metavar="CODE", help="A family of figures instead: see 'recur'.")
    ] = None,
    player: Annotated[
        str | None, typer.Option("--player", metavar="NAME", help="A player instead; a part of the name will do.")
    ] = None,
    out: OutOption = None,
    chorus: Annotated[int | None, typer.Option("--chorus", min=1, help="Only this chorus of the line.")] = None,
    bars: Annotated[str, typer.Option("--bars", metavar="BARS", help="Only these bars of the line (5-12).")] = "",
    notes: TextOption = None,
    concert: ConcertOption = False,
    force: ForceOption = False,
    db: DatabaseOption = None,
) -> None:
    """Write a lesson page: one HTML file that needs no network, to hand out, to print, and to hear.

    Of a line it shows the chart with functions and what the line implies, remarks, the notation with the figures
    marked that come back in your corpus, what each of them is and where else it stands, the chorus map, the common
    stock and a short profile; of a family every occurrence and its changes; of a player the figures that are that
    player's own. 'find --page' makes a page of hits. It plays the line, a passage or a figure. Mind the rights in the
    music before you hand it on.

    Examples:

      wellworn page 3

      wellworn page 3 --chorus 2 --notes remarks.md --out lesson.html

      wellworn page --family 9ded42

      wellworn page --player quellenberg
    """
    from cli.output import tell

    if sum(asked is not None for asked in (identity, family, player)) != 1:
        raise QueryError("say what the page is about, in one way: the ID of a line, --family CODE or --player NAME")
    if identity is None and (chorus is not None or bars or concert):
        raise QueryError("--chorus, --bars and --concert are for the page of a line")
    database = database_at(context, db)
    if identity is not None:
        path, html, told = _line_page(database, identity, chorus, bars, (out, notes, concert, force))
    else:
        path, html, told = _group_page(database, family, player, (out, notes, force))
    write_files({path: html.encode("utf-8")}, force)
    tell(f"{path}: {told}. {RIGHTS}")


def _line_page(
    database: "Database",
    identity: int,
    chorus: int | None,
    bars: str,
    how: tuple[str | None, str | None, bool, bool],
) -> tuple[Path, str, str]:
    """Where the page of a line goes, the page, and what it is in words."""
    from cli.page_assemble import page_html
    from cli.page_parts import read_notes, shown_bars, suggested_name, what_is_told
    from db.catalogue import load

    out, notes, concert, force = how
    if chorus is not None and bars:
        raise QueryError("--chorus and --bars both say which bars: give one of them")
    with database.reading() as connection:
        entry, line = load(connection, identity)
    path = target_of(out or suggested_name(entry.details.title, str(identity)), force)
    text = "" if notes is None else read_notes(notes)
    told = what_is_told(database, entry, line, shown_bars(line, chorus, bars))
    html = page_html(line, told, text, concert)
    return path, html, f"{entry.details.title}, {len(told.lesson.figures)} figures marked"


def _group_page(
    database: "Database", family: str | None, player: str | None, how: tuple[str | None, str | None, bool]
) -> tuple[Path, str, str]:
    """The same for a family or a player."""
    from cli.page_groups import groups_html
    from cli.page_parts import read_notes, suggested_name

    out, notes, force = how
    path = target_of(out or suggested_name(family or player or "", "family" if family else "player"), force)
    text = "" if notes is None else read_notes(notes)
    if family is not None:
        from cli.page_hits import page_of_family

        made = page_of_family(database, family)
    else:
        from cli.page_player import page_of_player

        made = page_of_player(database, player or "")
    count = sum(len(group.passages) for group in made.groups)
    return path, groups_html(made, text), f"{made.heading.title}, {count} place{'' if count == 1 else 's'}"
