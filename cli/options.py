"""The options that commands share, and how their texts become values."""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.match.context import Context
    from corpus.match.figure import Figure
    from db.catalogue import Selection
    from db.connection import Database

FIGURE_PANEL = "The figure (one way of asking)"
MATCHING_PANEL = "How close"
FILTER_PANEL = "Where to look"
CONTEXT_PANEL = "What stands around it"
OUTPUT_PANEL = "Output"
DETAILS_PANEL = "Details that the file does not say"
MIDI_PANEL = "MIDI files"

DatabaseOption = Annotated[
    str | None,
    typer.Option(
        "--db", metavar="PLACE", help="Database: a file, or a database URL (else WELLWORN_DB, else your own)."
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="JSON on standard output.", rich_help_panel=OUTPUT_PANEL)]
CsvOption = Annotated[bool, typer.Option("--csv", help="CSV on standard output.", rich_help_panel=OUTPUT_PANEL)]
LimitOption = Annotated[
    int | None,
    typer.Option("--limit", min=1, max=1_000_000_000, help="Show at most so many.", rich_help_panel=OUTPUT_PANEL),
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
    typer.Option(
        "--steps", help='Letter names between neighbours, a third is +2: "+2 +1 0".', rich_help_panel=FIGURE_PANEL
    ),
]
ContourOption = Annotated[
    str | None,
    typer.Option("--contour", help='Up, down, repeat: "*uudr".', rich_help_panel=FIGURE_PANEL),
]
LikeOption = Annotated[
    tuple[str, str] | None,
    typer.Option(
        "--like",
        metavar="ID|FILE BARS",
        help="A passage: bars (3 1-2), bar:beat to bar:beat (3 1:3-2:2), or of a file (new.abc all, new.abc#2 1-4).",
        rich_help_panel=FIGURE_PANEL,
    ),
]

RolesOption = Annotated[
    str | None,
    typer.Option(
        "--roles",
        help='Degrees of the chords, or chord, scale, outside, approach, *: "1 3 5 b7".',
        rich_help_panel=FIGURE_PANEL,
    ),
]
DegreesOption = Annotated[
    str | None,
    typer.Option(
        "--degrees", help='Degrees of the key, or classes as in --roles: "5 6 7 1".', rich_help_panel=FIGURE_PANEL
    ),
]

OverOption = Annotated[
    str | None,
    typer.Option(
        "--over",
        metavar="NUMERALS",
        help='A progression: "ii V I", "ii V|subV I", "* ii V"; alone, it lists what is played there.',
        rich_help_panel=CONTEXT_PANEL,
    ),
]
LevelOption = Annotated[
    int,
    typer.Option(
        "--level",
        min=0,
        max=3,
        help="Chart as written (0), ii left out (1), ii and passing vi (2), key centres (3).",
        rich_help_panel=CONTEXT_PANEL,
    ),
]
FirstOverOption = Annotated[
    str | None,
    typer.Option(
        "--first-over", metavar="NUMERAL", help="Function under the first note.", rich_help_panel=CONTEXT_PANEL
    ),
]
LastOverOption = Annotated[
    str | None,
    typer.Option("--last-over", metavar="NUMERAL", help="Function under the last note.", rich_help_panel=CONTEXT_PANEL),
]
StartsOnOption = Annotated[
    str | None,
    typer.Option(
        "--starts-on", metavar="ROLE", help="Role of the first note (b7, outside).", rich_help_panel=CONTEXT_PANEL
    ),
]
LandsOnOption = Annotated[
    str | None,
    typer.Option(
        "--lands-on",
        metavar="ROLE",
        help="Role of the last note; with --over alone, of the first over its last chord.",
        rich_help_panel=CONTEXT_PANEL,
    ),
]
FormBarOption = Annotated[
    int | None, typer.Option("--form-bar", min=1, help="Bar of the form.", rich_help_panel=CONTEXT_PANEL)
]
BeatOption = Annotated[
    float | None, typer.Option("--beat", min=1, max=99, help="Beat of the first note.", rich_help_panel=CONTEXT_PANEL)
]

IgnoreOption = Annotated[
    str,
    typer.Option(
        "--ignore",
        metavar="octaves,doubles,mode",
        autocompletion=lambda: ["octaves", "doubles", "mode", "octaves,doubles", "octaves,doubles,mode"],
        help="What may differ: any of octaves, doubles, mode.",
        rich_help_panel=MATCHING_PANEL,
    ),
]
RhythmOption = Annotated[
    str,
    typer.Option(
        "--rhythm",
        metavar="any|stretched|same",
        autocompletion=lambda: ["any", "stretched", "same"],
        help="Ignore rhythm, or want the same proportions, or the same rhythm.",
        rich_help_panel=MATCHING_PANEL,
    ),
]

NearOption = Annotated[
    bool,
    typer.Option("--near", help="Find the figure in disguise too, best first.", rich_help_panel=MATCHING_PANEL),
]
ThresholdOption = Annotated[
    float | None,
    typer.Option(
        "--threshold",
        metavar="0-1",
        help="With --near: the least likeness (0.85 unless you say).",
        rich_help_panel=MATCHING_PANEL,
    ),
]
PricesOption = Annotated[
    str | None,
    typer.Option(
        "--prices",
        metavar="figures|versions",
        autocompletion=lambda: ["figures", "versions"],
        help="With --near: what changes cost, as 'wellworn prices' shows.",
        rich_help_panel=MATCHING_PANEL,
    ),
]
AlsoOption = Annotated[
    str,
    typer.Option(
        "--also",
        metavar="FORMS",
        autocompletion=lambda: ["retrograde", "inversion", "retrograde inversion"],
        help="Look for the figure turned round too: retrograde, inversion, retrograde inversion.",
        rich_help_panel=MATCHING_PANEL,
    ),
]
SequenceOption = Annotated[
    bool,
    typer.Option(
        "--sequence",
        help="Only where it is repeated at once on other degrees.",
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
    typer.Argument(metavar="PATH…", help="Files, folders, patterns (*.abc), - for typed ABC, music21:NAME."),
]
LARGEST_ID = 2**62
IdArgument = Annotated[
    int, typer.Argument(metavar="ID", min=1, max=LARGEST_ID, help="The transcription's ID ('wellworn list').")
]
IdsArgument = Annotated[list[int], typer.Argument(metavar="ID…", min=1, max=LARGEST_ID, help="IDs of transcriptions.")]


def database_place(context: typer.Context, option: str | None) -> str | None:
    """Where the user says the database is: after the command, or before it."""
    return option or context.obj


def database_at(context: typer.Context, option: str | None, create: bool = False) -> "Database":
    """The database, opened; made when it is missing and ``create`` says so."""
    from db.location import database_url
    from db.opening import open_database

    return open_database(database_url(database_place(context, option)), create=create)


def parse_range(text: str, what: str) -> tuple[float | None, float | None]:
    """A range such as ``120-200``, ``120-``, ``-200``, ``180``; both ends included.

    Raises QueryError for anything else.
    """
    if not text:
        return None, None
    match = re.fullmatch(r"\s*(\d{1,6}(?:\.\d+)?)?\s*([-–])?\s*(\d{1,6}(?:\.\d+)?)?\s*", text)
    if match is None or (match[1] is None and match[3] is None):
        example = "1990-1999, 1990-, -1999 or 1994" if what == "--year" else "120-200, 120-, -200 or 180"
        raise QueryError(f"{what} {text!r} is no range: write {example}")
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


def context_of(
    over: str | None = None,
    level: int = 0,
    first_over: str | None = None,
    last_over: str | None = None,
    starts_on: str | None = None,
    lands_on: str | None = None,
    form_bar: int | None = None,
    beat: float | None = None,
) -> "Context":
    """What is wanted around a figure, as one value. Raises QueryError for an unknown numeral or role."""
    from fractions import Fraction

    from corpus.match.context import Context

    if beat is not None and beat != beat:
        raise QueryError("--beat must be a number: 1, 2.5")
    at = None if beat is None else Fraction(beat).limit_denominator(96)
    if not any((over, first_over, last_over, starts_on, lands_on)):
        return Context(level=level, form_bar=form_bar, beat=at)
    from corpus.harmony.over import parse_function, parse_progression
    from corpus.harmony.role_symbols import parse_role

    for option, role in (("--starts-on", starts_on), ("--lands-on", lands_on)):
        if role is not None and parse_role(role).is_approach:
            raise QueryError(
                f"{option} {role} asks what the note does: give what it is, a degree, chord, scale or outside"
            )
    return Context(
        over=None if over is None else parse_progression(over).at_level(level),
        level=level,
        first_over=None if first_over is None else parse_function(first_over),
        last_over=None if last_over is None else parse_function(last_over),
        starts_on=None if starts_on is None else parse_role(starts_on),
        lands_on=None if lands_on is None else parse_role(lands_on),
        form_bar=form_bar,
        beat=at,
    )


def typed_figures(
    notes: Sequence[str],
    intervals: Sequence[str],
    steps: Sequence[str],
    contours: Sequence[str],
    roles: Sequence[str] = (),
    degrees: Sequence[str] = (),
) -> "list[Figure]":
    """The figures that are typed out, in the order of the ways of asking. Raises QueryError for a bad one."""
    from corpus.match.figure import (
        figure_from_contour,
        figure_from_degrees,
        figure_from_intervals,
        figure_from_notes,
        figure_from_roles,
        figure_from_steps,
    )

    return [
        *map(figure_from_notes, notes),
        *map(figure_from_intervals, intervals),
        *map(figure_from_steps, steps),
        *map(figure_from_contour, contours),
        *map(figure_from_roles, roles),
        *map(figure_from_degrees, degrees),
    ]


def figure_like(database: "Database", place: tuple[str, str]) -> "Figure":
    """The figure that stands in a passage, named by the ID of a transcription (or a file) and bars."""
    from corpus.match.figure import figure_from_notes_of
    from db.passages import passage_at

    transcription, notes = passage_at(database, *place)
    return figure_from_notes_of(transcription, *notes)


def one_figure(database: "Database", like: tuple[str, str] | None, **typed: str | None) -> "Figure | None":
    """The one figure asked for, None when there is none. ``typed`` are the other ways of asking, by option.

    Raises QueryError when several are given.
    """
    asked = [f"--{name}" for name, text in typed.items() if text is not None] + (["--like"] if like is not None else [])
    if len(asked) > 1:
        raise QueryError(f"say which figure in one way: {' and '.join(asked)} are given")
    if like is not None:
        return figure_like(database, like)
    figures = typed_figures(*([text] if text is not None else [] for text in typed.values()))
    return figures[0] if figures else None


def finite(value: float | None) -> float | None:
    """A number that is one. Raises QueryError for NaN."""
    if value is not None and value != value:
        raise QueryError("a tempo must be a number of quarters a minute")
    return value


def chosen(text: str, choices: Sequence[str], option: str) -> str:
    """One of several words. Raises QueryError for another."""
    word = text.strip().lower()
    if word not in choices:
        raise QueryError(f"{option} {text!r} is unknown: choose {', '.join(choices[:-1])} or {choices[-1]}")
    return word
