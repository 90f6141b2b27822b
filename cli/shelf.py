"""``shelf``: the figures that the user keeps."""

import sys
from dataclasses import replace as replace_fields
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.options import (
    ContourOption,
    DatabaseOption,
    DegreesOption,
    IntervalsOption,
    JsonOption,
    LikeOption,
    NotesOption,
    RolesOption,
    StepsOption,
    database_at,
    one_figure,
)
from corpus.errors import QueryError

if TYPE_CHECKING:
    from collections.abc import Callable

    from corpus.shelf.kept import KeptFigure
    from db.connection import Database
    from db.shelf import Shelf

_FEW = 20
ABOUT_PANEL = "About it"
NameArgument = Annotated[str, typer.Argument(metavar="NAME", help="The figure's name.")]
TagsOption = Annotated[
    list[str] | None,
    typer.Option("--tag", metavar="TAG", help="A tag; may be given often.", rich_help_panel=ABOUT_PANEL),
]
RatingOption = Annotated[
    int | None, typer.Option("--rating", min=1, max=5, help="1 to 5.", rich_help_panel=ABOUT_PANEL)
]
CommentOption = Annotated[
    str | None, typer.Option("--comment", help="Free text; lines are kept.", rich_help_panel=ABOUT_PANEL)
]
FamilyOption = Annotated[
    str | None,
    typer.Option(
        "--family",
        help="A name for figures that are one in different dress, or a family's code ('recur').",
        rich_help_panel=ABOUT_PANEL,
    ),
]
LengthsOption = Annotated[
    str | None,
    typer.Option("--lengths", help='Lengths of typed notes in quarters: "1 1/2 1/2 1".', rich_help_panel=ABOUT_PANEL),
]
ChordsOption = Annotated[
    str | None, typer.Option("--chords", help='Chords under it: "Cm7 F7".', rich_help_panel=ABOUT_PANEL)
]
FunctionsOption = Annotated[
    str | None,
    typer.Option("--functions", help='Functions under it, with --key: "ii V".', rich_help_panel=ABOUT_PANEL),
]
KeyOption = Annotated[str | None, typer.Option("--key", help="'Bb', 'C minor'.", rich_help_panel=ABOUT_PANEL)]

app = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")


@app.callback()
def shelf() -> None:
    """Keep figures: your own vocabulary, with names, tags, notes and where each came from.

    Example:

      wellworn shelf add "Turn around F" --like 12 117:1-118:1 --tag turnaround
    """


def is_asked() -> bool:
    """Whether somebody is there to answer."""
    return sys.stdin.isatty() and sys.stderr.isatty()


@app.command("add")
def add(
    context: typer.Context,
    name: NameArgument,
    notes: NotesOption = None,
    intervals: IntervalsOption = None,
    steps: StepsOption = None,
    contour: ContourOption = None,
    roles: RolesOption = None,
    degrees: DegreesOption = None,
    like: LikeOption = None,
    lengths: LengthsOption = None,
    chords: ChordsOption = None,
    functions: FunctionsOption = None,
    key: KeyOption = None,
    tag: TagsOption = None,
    rating: RatingOption = None,
    comment: CommentOption = None,
    family: FamilyOption = None,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Keep a figure under a name of your own, asked for as 'find' asks.

    --like brings rhythm, chords, functions and the source; --notes and --intervals what is typed. The other ways of
    asking name no notes: find the figure first. Figures on the shelf that are like it are told with what differs.

    Examples:

      wellworn shelf add "Turn around F" --like 12 117:1-118:1 --tag turnaround --rating 4

      wellworn shelf add "Enclosed third" --notes "Bb2 D3 Eb3 E3" --lengths "1 1 1/2 1/2" --functions V --key Bb
    """
    from cli.output import print_json, tell
    from cli.shelf_words import alike_json, alike_words
    from corpus.shelf.kept import clean_name

    typed = {"notes": notes, "intervals": intervals, "steps": steps, "contour": contour, "roles": roles}
    database = database_at(context, db, create=True)
    figure = asked_figure(database, clean_name(name), like, {**typed, "degrees": degrees}, lengths)
    figure = _with_details(figure, chords, functions, key, tag, rating, comment, family)
    others = shelved(database)
    _put_new(database, figure)
    found = near_duplicates(others, [figure])[figure.name]
    if json:
        print_json({"name": figure.name, "alike": alike_json(found)})
    tell(f"kept {figure.name!r}: {' '.join(figure.spellings)}")
    for line in [] if json else [*alike_words(figure, found), *_tied(database, figure)]:
        tell(line)
    if found and not json and is_asked() and typer.confirm("Make one of them now?", default=False, err=True):
        _unite(database, found[0].figure.name, figure.name)


def _tied(database: "Database", figure: "KeptFigure") -> list[str]:
    """That a figure recurs in a family, where one is kept that does."""
    from cli.shelf_words import tie_words
    from db.shelf_families import tie_of

    with database.reading() as connection:
        words = tie_words(figure, tie_of(connection, figure))
    return [words] if words else []


def asked_figure(
    database: "Database", name: str, like: tuple[str, str] | None, typed: dict[str, str | None], lengths: str | None
) -> "KeptFigure":
    """The figure asked for, to be kept. Raises QueryError when none is, or one that has no notes."""
    from corpus.shelf.keeping import from_passage, from_typed, parse_lengths
    from db.passages import passage_at

    if like is not None and not any(typed.values()):
        if lengths is not None:
            raise QueryError("--like brings the rhythm of the passage: leave --lengths out")
        line, ends = passage_at(database, *like)
        return from_passage(name, line, *ends, int(like[0]) if like[0].strip().isdigit() else None)
    figure = one_figure(database, like, **typed)
    if figure is None:
        raise QueryError("say which figure to keep: --like ID BARS, --notes or --intervals")
    return from_typed(name, figure, parse_lengths(lengths or ""))


def _with_details(
    figure: "KeptFigure",
    chords: str | None,
    functions: str | None,
    key: str | None,
    tags: list[str] | None,
    rating: int | None,
    comment: str | None,
    family: str | None,
) -> "KeptFigure":
    """A figure with what was said about it."""
    from corpus.shelf.keeping import typed_chords
    from corpus.shelf.kept import clean_comment, clean_key, clean_name, clean_tags

    changes: dict[str, Any] = {}
    key_name = figure.key if key is None else clean_key(key)
    if functions and not key_name:
        raise QueryError("functions count in a key: give --key with --functions")
    if chords is not None or functions is not None:
        changes["chords"] = typed_chords(chords, functions, key_name)
    changes["key"] = key_name
    if tags:
        changes["tags"] = clean_tags((*figure.tags, *tags))
    if rating is not None:
        changes["rating"] = rating
    if comment is not None:
        changes["comment"] = clean_comment(comment)
    if family is not None:
        changes["family"] = clean_name(family) if family else ""
    return replace_fields(figure, **changes)


def shelved(database: "Database") -> "list[KeptFigure]":
    """All kept figures."""
    from db.shelf import load_shelf

    with database.reading() as connection:
        return load_shelf(connection)


def _put_new(database: "Database", figure: "KeptFigure") -> None:
    """Put a figure on the shelf. Raises QueryError when its name is taken."""
    from cli.shelf_words import today
    from db.shelf import change_shelf

    def put(figures: "Shelf") -> "Shelf":
        taken = {other.id_name: other.name for other in figures}
        if figure.id_name in taken:
            raise QueryError(
                f"there is a figure {taken[figure.id_name]!r} on the shelf already: give another name, or take that "
                "one out ('wellworn shelf remove')"
            )
        return [*figures, replace_fields(figure, kept_on=today())]

    change_shelf(database, put, "shelf add")


def near_duplicates(shelf: "Shelf", figures: "Shelf") -> "dict[str, Any]":
    """For each figure (by name) those of the shelf that it is like; of many figures only the most like one each."""
    from cli.configuration import prices_in_force
    from corpus.shelf.likeness import MOST_SHOWN, ShelfLines

    lines = ShelfLines(shelf, prices_in_force("figures"))
    most = MOST_SHOWN if len(figures) <= _FEW else 1
    return {figure.name: lines.alike(figure, most) for figure in figures}


def change_one(
    database: "Database", name: str, change: "Callable[[KeptFigure], KeptFigure]", command: str = "shelf edit"
) -> "KeptFigure":
    """Change one figure of the shelf; returns what it is now. ``command`` is what the history calls it."""
    from corpus.shelf.kept import named
    from db.shelf import change_shelf

    changed: list[KeptFigure] = []

    def apply(figures: "Shelf") -> "Shelf":
        before = named(figures, name)
        changed.append(change(before))
        others = [figure for figure in figures if figure is not before]
        if any(figure.id_name == changed[0].id_name for figure in others):
            raise QueryError(f"there is a figure {changed[0].name!r} on the shelf already: give another name")
        return [*others, changed[0]]

    change_shelf(database, apply, command)
    return changed[0]


@app.command("edit")
def edit(
    context: typer.Context,
    name: NameArgument,
    rename: Annotated[str | None, typer.Option("--name", help="A new name.", rich_help_panel=ABOUT_PANEL)] = None,
    rating: RatingOption = None,
    comment: CommentOption = None,
    family: FamilyOption = None,
    lengths: LengthsOption = None,
    chords: ChordsOption = None,
    functions: FunctionsOption = None,
    key: KeyOption = None,
    clear: Annotated[
        list[str] | None,
        typer.Option("--clear", metavar="rating|comment|family|chords|key|lengths", help="Forget it."),
    ] = None,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Change what is known about a kept figure. '' empties a text; 'shelf tag' changes tags.

    Examples:

      wellworn shelf edit "Turn around F" --name "Long turn" --rating 5

      wellworn shelf edit "Turn around F" --functions "ii V" --key Bb
    """
    from cli.output import tell
    from corpus.shelf.keeping import parse_lengths, with_lengths
    from corpus.shelf.kept import clean_name

    given = (rename, rating, comment, family, lengths, chords, functions, key, clear)
    if all(value is None for value in given):
        raise QueryError("nothing to change: give at least one of the options ('wellworn shelf edit --help')")
    cleared = _cleared(clear or [])

    def change(figure: "KeptFigure") -> "KeptFigure":
        if cleared.pop("lengths", None) is not None:
            figure = replace_fields(figure, notes=with_lengths(figure.spellings, ()))
        figure = replace_fields(figure, **cleared)
        figure = _with_details(figure, chords, functions, key, None, rating, comment, family)
        if lengths is not None:
            figure = replace_fields(figure, notes=with_lengths(figure.spellings, parse_lengths(lengths)))
        return figure if rename is None else replace_fields(figure, name=clean_name(rename))

    figure = change_one(database_at(context, db), name, change)
    _print_if(json, figure)
    tell(f"{figure.name!r} is changed")


def _print_if(json: bool, figure: "KeptFigure") -> None:
    """A figure as JSON where it is asked for: what the shelf file would hold of it, practice included."""
    from cli.output import print_json
    from corpus.shelf.file import figure_fields

    if json:
        print_json(figure_fields(figure, with_practice=True))


def _cleared(names: list[str]) -> dict[str, Any]:
    """The fields to be emptied. Raises QueryError for others."""
    from cli.options import chosen

    empty = {"rating": None, "comment": "", "family": "", "chords": (), "key": "", "lengths": ()}
    words = [chosen(name, tuple(empty), "--clear") for name in names]
    return {word: empty[word] for word in words}


@app.command("tag")
def tag_figure(
    context: typer.Context,
    name: NameArgument,
    tags: Annotated[list[str] | None, typer.Argument(metavar="[TAG]…", help="Tags to add.")] = None,
    remove: Annotated[list[str] | None, typer.Option("--remove", metavar="TAG", help="A tag to take away.")] = None,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Add tags to a kept figure, or take some away.

    Examples:

      wellworn shelf tag "Turn around F" blues turnaround

      wellworn shelf tag "Turn around F" --remove blues
    """
    from cli.output import tell
    from corpus.shelf.kept import clean_tags, folded_name

    added, taken = clean_tags(tags or ()), {folded_name(tag): tag for tag in clean_tags(remove or ())}
    if not added and not taken:
        raise QueryError("name tags to add, or --remove those to take away")

    def change(figure: "KeptFigure") -> "KeptFigure":
        missing = [tag for known, tag in taken.items() if known not in map(folded_name, figure.tags)]
        if missing:
            raise QueryError(f"{figure.name!r} has no tag {missing[0]!r}: it has {', '.join(figure.tags) or 'none'}")
        kept = [tag for tag in figure.tags if folded_name(tag) not in taken]
        return replace_fields(figure, tags=clean_tags((*kept, *added)))

    figure = change_one(database_at(context, db), name, change, "shelf tag")
    _print_if(json, figure)
    tell(f"{figure.name!r}: {', '.join(figure.tags) or 'no tags'}")


@app.command("remove")
def remove(
    context: typer.Context,
    names: Annotated[list[str], typer.Argument(metavar="NAME…", help="Names of figures.")],
    force: Annotated[bool, typer.Option("--force", help="Also with a practice log.")] = False,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Take figures off the shelf. One that has a practice log is only taken with --force, or when you agree.

    Example:

      wellworn shelf remove "Turn around F"
    """
    from cli.output import print_json, tell
    from cli.shelf_words import count_of
    from corpus.shelf.kept import named
    from db.shelf import change_shelf

    database = database_at(context, db)
    practised = [f for f in (named(shelved(database), name) for name in names) if f.practice]
    if practised and not force:
        entries = count_of(sum(len(figure.practice) for figure in practised), "practice entry")
        words = f"{', '.join(repr(figure.name) for figure in practised)}: {entries} would be gone too"
        if not (is_asked() and typer.confirm(f"{words}. Remove?", default=False, err=True)):
            raise QueryError(f"{words}: nothing is removed; --force removes")

    def take(figures: "Shelf") -> "Shelf":
        gone = {named(figures, name).id_name for name in names}
        return [figure for figure in figures if figure.id_name not in gone]

    removed = list(dict.fromkeys(named(shelved(database), name).name for name in names))
    change_shelf(database, take, "shelf remove")
    if json:
        print_json({"removed": removed})
    tell(f"{count_of(len(removed), 'figure')} removed")


def _unite(database: "Database", kept: str, other: str) -> "KeptFigure":
    """Make one figure of two; the first gives name and notes."""
    from cli.output import tell
    from corpus.shelf.compare import merged
    from corpus.shelf.kept import named
    from db.shelf import change_shelf

    def unite(figures: "Shelf") -> "Shelf":
        one, two = named(figures, kept), named(figures, other)
        if one is two:
            raise QueryError(f"{one.name!r} is one figure already: name two")
        others = [figure for figure in figures if figure is not one and figure is not two]
        united.append(merged(one, two))
        return [*others, united[0]]

    united: list[KeptFigure] = []
    change_shelf(database, unite, "shelf merge")
    tell(f"one figure now: {united[0].name!r}, with tags, comments, sources and practice of both")
    return united[0]


@app.command("merge")
def merge(
    context: typer.Context,
    kept: Annotated[str, typer.Argument(metavar="NAME", help="The figure that stays, with its name and notes.")],
    other: Annotated[str, typer.Argument(metavar="OTHER", help="The figure that goes into it.")],
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Make one figure of two: name and notes of the first; tags, comments, sources and practice log of both.

    Example:

      wellworn shelf merge "Turn around F" "Turn, doubled"
    """
    _print_if(json, _unite(database_at(context, db), kept, other))
