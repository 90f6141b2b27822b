"""The options that commands share, and how their texts become values."""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.match.figure import Figure
    from db.catalogue import Selection
    from db.connection import Database

FIGURE_PANEL = "The figure (one way of asking)"
MATCHING_PANEL = "How close"
FILTER_PANEL = "Where to look"
OUTPUT_PANEL = "Output"
DETAILS_PANEL = "Details that the file does not say"

DatabaseOption = Annotated[
    str | None,
    typer.Option(
        "--db", metavar="PLACE", help="Database: a file or a SQLAlchemy URL (else WELLWORN_DB, else your own)."
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="JSON on standard output.", rich_help_panel=OUTPUT_PANEL)]
CsvOption = Annotated[bool, typer.Option("--csv", help="CSV on standard output.", rich_help_panel=OUTPUT_PANEL)]
LimitOption = Annotated[
    int | None, typer.Option("--limit", min=1, help="Show at most so many.", rich_help_panel=OUTPUT_PANEL)
]

NotesOption = Annotated[
    str | None,
    typer.Option(
        "--notes", help='Note names: "Bb2 D3 Eb3 E3"; without octaves, any octave.', rich_help_panel=FIGURE_PANEL
    ),
]
IntervalsOption = Annotated[
    str | None,
    typer.Option("--intervals", help='Semitones between neighbours: "+4 +1 +1".', rich_help_panel=FIGURE_PANEL),
]
StepsOption = Annotated[
    str | None,
    typer.Option("--steps", help='Letter names between neighbours: "+2 +1 0".', rich_help_panel=FIGURE_PANEL),
]
ContourOption = Annotated[
    str | None,
    typer.Option("--contour", help='Up, down, repeat: "*uudr".', rich_help_panel=FIGURE_PANEL),
]
LikeOption = Annotated[
    tuple[int, str] | None,
    typer.Option(
        "--like",
        metavar="ID BARS",
        help="A passage: bars (3 1-2) or bar:beat to bar:beat (3 1:3-2:2).",
        rich_help_panel=FIGURE_PANEL,
    ),
]

IgnoreOption = Annotated[
    str,
    typer.Option(
        "--ignore", metavar="FOLDS", help="Ignore octaves, doubles, mode (a list).", rich_help_panel=MATCHING_PANEL
    ),
]
RhythmOption = Annotated[
    str,
    typer.Option(
        "--rhythm",
        metavar="any|stretched|same",
        help="Ignore rhythm, or want the same proportions, or the same rhythm.",
        rich_help_panel=MATCHING_PANEL,
    ),
]

PlayerOption = Annotated[str, typer.Option("--player", help="Part of the player's name.", rich_help_panel=FILTER_PANEL)]
TuneOption = Annotated[str, typer.Option("--tune", help="Part of the tune's title.", rich_help_panel=FILTER_PANEL)]
CollectionOption = Annotated[
    str, typer.Option("--collection", help="Part of the collection's name.", rich_help_panel=FILTER_PANEL)
]
SectionOption = Annotated[
    str, typer.Option("--section", help="A section of the form, such as A or Bridge.", rich_help_panel=FILTER_PANEL)
]
TempoRangeOption = Annotated[
    str,
    typer.Option(
        "--tempo", metavar="RANGE", help="Quarters a minute: 120-200, 120-, -200.", rich_help_panel=FILTER_PANEL
    ),
]
YearRangeOption = Annotated[
    str, typer.Option("--year", metavar="RANGE", help="Years: 1990-1999, 1990-.", rich_help_panel=FILTER_PANEL)
]

PlacesArgument = Annotated[
    list[str],
    typer.Argument(metavar="PATH…", help="Files, folders, globs, - for ABC on standard input, music21:NAME."),
]
IdArgument = Annotated[int, typer.Argument(metavar="ID", min=1, help="The transcription's ID ('wellworn list').")]
IdsArgument = Annotated[list[int], typer.Argument(metavar="ID…", min=1, help="IDs of transcriptions.")]


def database_place(context: typer.Context, option: str | None) -> str | None:
    """Where the user says the database is: after the command, or before it."""
    return option or context.obj


def database_at(context: typer.Context, option: str | None, create: bool = False) -> "Database":
    """The database, opened; made when it is missing and ``create`` says so."""
    from db.connection import open_database
    from db.location import database_url

    return open_database(database_url(database_place(context, option)), create=create)


def parse_range(text: str, what: str) -> tuple[float | None, float | None]:
    """A range such as ``120-200``, ``120-``, ``-200``, ``180``; both ends included.

    Raises QueryError for anything else.
    """
    if not text:
        return None, None
    match = re.fullmatch(r"\s*(\d{1,6}(?:\.\d+)?)?\s*([-–])?\s*(\d{1,6}(?:\.\d+)?)?\s*", text)
    if match is None or (match[1] is None and match[3] is None):
        raise QueryError(f"{what} {text!r} is no range: write 120-200, 120-, -200 or 180")
    low = float(match[1]) if match[1] else None
    high = float(match[3]) if match[3] else (low if match[2] is None else None)
    if low is not None and high is not None and low > high:
        raise QueryError(f"{what} {text!r} runs backwards: put the smaller number first")
    return low, high


def selection_of(
    player: str = "", tune: str = "", collection: str = "", section: str = "", tempo: str = "", year: str = ""
) -> "Selection":
    """The filters of a command as one value. Raises QueryError for a bad range."""
    from db.catalogue import Selection

    first_year, last_year = parse_range(year, "--year")
    return Selection(
        player=player,
        tune=tune,
        collection=collection,
        section=section,
        tempo=parse_range(tempo, "--tempo"),
        year=(None if first_year is None else int(first_year), None if last_year is None else int(last_year)),
    )


def typed_figures(
    notes: Sequence[str], intervals: Sequence[str], steps: Sequence[str], contours: Sequence[str]
) -> "list[Figure]":
    """The figures that are typed out, in the order of the ways of asking. Raises QueryError for a bad one."""
    from corpus.match.figure import (
        figure_from_contour,
        figure_from_intervals,
        figure_from_notes,
        figure_from_steps,
    )

    return [
        *map(figure_from_notes, notes),
        *map(figure_from_intervals, intervals),
        *map(figure_from_steps, steps),
        *map(figure_from_contour, contours),
    ]


def figure_like(database: "Database", place: tuple[int, str]) -> "Figure":
    """The figure that stands in a passage of a transcription, named ID and bars."""
    from corpus.match.figure import figure_from_notes_of
    from corpus.regions import notes_in, parse_region
    from db.catalogue import load

    identity, bars = place
    region = parse_region(bars)
    with database.reading() as connection:
        _, transcription = load(connection, identity)
    return figure_from_notes_of(transcription, *notes_in(transcription, region))


def one_figure(
    database: "Database",
    notes: str | None,
    intervals: str | None,
    steps: str | None,
    contour: str | None,
    like: tuple[int, str] | None,
) -> "Figure":
    """The one figure asked for. Raises QueryError when none or several are."""
    asked = [
        name for name, value in zip(_WAYS, (notes, intervals, steps, contour, like), strict=True) if value is not None
    ]
    if len(asked) != 1:
        found = "none is given" if not asked else f"{' and '.join(asked)} are given"
        raise QueryError(f"say which figure in one way, {', '.join(_WAYS[:-1])} or {_WAYS[-1]}: {found}")
    if like is not None:
        return figure_like(database, like)
    as_lists = [[text] if text is not None else [] for text in (notes, intervals, steps, contour)]
    return typed_figures(*as_lists)[0]


_WAYS = ("--notes", "--intervals", "--steps", "--contour", "--like")


def chosen(text: str, choices: Sequence[str], option: str) -> str:
    """One of several words. Raises QueryError for another."""
    word = text.strip().lower()
    if word not in choices:
        raise QueryError(f"{option} {text!r} is unknown: choose {', '.join(choices[:-1])} or {choices[-1]}")
    return word
