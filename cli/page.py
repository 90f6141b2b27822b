"""``page``: a lesson on a line as one HTML file, with notation, explanations and sound."""

from typing import Annotated

import typer

from cli.export import ConcertOption
from cli.files import ForceOption, target_of, write_files
from cli.options import OUTPUT_PANEL, DatabaseOption, IdArgument, database_at
from corpus.errors import QueryError

OutOption = Annotated[
    str | None,
    typer.Option("--out", metavar="FILE", help="Where to (else named after the tune).", rich_help_panel=OUTPUT_PANEL),
]
TextOption = Annotated[
    str | None,
    typer.Option("--notes", metavar="FILE", help="Your own text, in Markdown.", rich_help_panel=OUTPUT_PANEL),
]


def page(
    context: typer.Context,
    identity: IdArgument,
    out: OutOption = None,
    chorus: Annotated[int | None, typer.Option("--chorus", min=1, help="Only this chorus.")] = None,
    bars: Annotated[str, typer.Option("--bars", metavar="BARS", help="Only these bars (5-12).")] = "",
    notes: TextOption = None,
    concert: ConcertOption = False,
    force: ForceOption = False,
    db: DatabaseOption = None,
) -> None:
    """Write a lesson page: one HTML file that needs no network, to hand out, to print, and to hear.

    It shows the chart with functions, the line with the figures marked that come back in your corpus, what each of
    them is and where else it stands, the chorus map, the common stock and a short profile. It plays the line, a
    passage or a figure. Mind the rights in the music before you hand it on.

    Examples:

      wellworn page 3

      wellworn page 3 --chorus 2 --notes remarks.md --out lesson.html
    """
    from cli.output import tell
    from cli.page_assemble import page_html
    from cli.page_parts import read_notes, shown_bars, suggested_name, what_is_told
    from db.catalogue import load

    if chorus is not None and bars:
        raise QueryError("--chorus and --bars both say which bars: give one of them")
    database = database_at(context, db)
    with database.reading() as connection:
        entry, line = load(connection, identity)
    path = target_of(out or suggested_name(entry.details.title, identity), force)
    text = "" if notes is None else read_notes(notes)
    told = what_is_told(database, entry, line, shown_bars(line, chorus, bars))
    html = page_html(line, told, text, concert)
    write_files({path: html.encode("utf-8")})
    tell(f"{path}: {entry.details.title}, {len(told.lesson.figures)} figures marked. Mind the rights in the music.")
