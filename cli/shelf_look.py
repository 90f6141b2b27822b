"""``shelf list`` and ``shelf show``: what is on the shelf, and where it stands now."""

from typing import TYPE_CHECKING, Annotated

import typer

from cli.options import DatabaseOption, JsonOption, database_at
from cli.shelf import FamilyOption, NameArgument, TagsOption

if TYPE_CHECKING:
    from corpus.shelf.kept import KeptFigure
    from db.shelf import Shelf

_PLACES_SHOWN = 12


def list_figures(
    context: typer.Context,
    tag: TagsOption = None,
    family: FamilyOption = None,
    least: Annotated[int | None, typer.Option("--rating", min=1, max=5, help="At least so much.")] = None,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """List the kept figures, with the number of places where each stands now.

    Examples:

      wellworn shelf list

      wellworn shelf list --tag turnaround --rating 4 --json
    """
    from cli.output import print_json, print_table, tell
    from cli.shelf_words import count_of, figure_json, figure_row
    from db.shelf import count_places, live_sources, load_shelf

    with database_at(context, db).reading() as connection:
        figures = chosen_figures(load_shelf(connection), tag, family, least)
        places = [count_places(connection, figure) for figure in figures]
        sources = [live_sources(connection, figure) for figure in figures] if json else []
    if json:
        print_json([figure_json(*one) for one in zip(figures, places, sources, strict=True)])
    elif figures:
        rows = [figure_row(figure, count) for figure, count in zip(figures, places, strict=True)]
        print_table(("figure", "notes", "rating", "tags", "places"), rows, right=("places",))
    tell(f"{count_of(len(figures), 'figure')}" + ("" if figures else ": 'wellworn shelf add' keeps one"))


def chosen_figures(
    figures: "Shelf", tags: list[str] | None = None, family: str | None = None, least: int | None = None
) -> "list[KeptFigure]":
    """The figures that bear all tags, belong to a family, and are rated at least so high."""
    from corpus.shelf.kept import clean_tags, folded_name

    wanted = {folded_name(tag) for tag in clean_tags(tags or ())}
    return [
        figure
        for figure in figures
        if wanted <= {folded_name(tag) for tag in figure.tags}
        and (family is None or folded_name(figure.family) == folded_name(family))
        and (least is None or (figure.rating or 0) >= least)
    ]


def show(context: typer.Context, name: NameArgument, json: JsonOption = False, db: DatabaseOption = None) -> None:
    """Show all about a kept figure: notes, rhythm, chords, where it came from, where it stands now.

    Where a family that 'recur' keeps has places in common with it, that is told too.

    Example:

      wellworn shelf show "Turn around F"
    """
    from cli.output import print_json, say
    from cli.shelf_words import figure_json, figure_page, occurrence_json, tie_json
    from corpus.shelf.kept import named
    from db.shelf import live_sources, load_shelf, occurrences_of
    from db.shelf_families import tie_of

    with database_at(context, db).reading() as connection:
        figure = named(load_shelf(connection), name)
        answer = occurrences_of(connection, figure, None if json else _PLACES_SHOWN)
        sources = live_sources(connection, figure)
        tie = tie_of(connection, figure)
    if json:
        places = [occurrence_json(hit) for hit in answer.hits]
        print_json({**figure_json(figure, answer.total, sources), "recurs_in": tie_json(tie), "occurrences": places})
        return
    for line in figure_page(figure, answer, sources, tie):
        say(line)
