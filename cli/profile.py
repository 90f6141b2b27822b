"""``profile``: what a line, a player or any selection does, in figures."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.options import (
    LARGEST_ID,
    OUTPUT_PANEL,
    CollectionOption,
    CsvOption,
    DatabaseOption,
    JsonOption,
    PlayerOption,
    SectionOption,
    TempoRangeOption,
    TuneOption,
    YearRangeOption,
    database_at,
    selection_of,
)
from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.profile.profile import Profile
    from corpus.profile.samples import Measure
    from db.catalogue import Selection

OnlyOption = Annotated[
    str,
    typer.Option(
        "--only",
        metavar="GROUPS",
        help="Only these groups of figures, with commas: roots, degrees, rhythm, scales …",
        rich_help_panel=OUTPUT_PANEL,
    ),
]


ShapesOption = Annotated[
    bool | None,
    typer.Option("--shapes/--no-shapes", help="Count named shapes (unless said: of at most 20 lines)."),
]
RepetitionOption = Annotated[
    bool | None,
    typer.Option(
        "--repetition/--no-repetition",
        help="Count recurring figures (unless said: where they are kept, or the corpus is small).",
    ),
]


def profile(
    context: typer.Context,
    ids: Annotated[
        list[int] | None, typer.Argument(metavar="[ID…]", min=1, max=LARGEST_ID, help="IDs of transcriptions.")
    ] = None,
    player: PlayerOption = "",
    tune: TuneOption = "",
    section: SectionOption = "",
    collection: CollectionOption = "",
    tempo: TempoRangeOption = "",
    year: YearRangeOption = "",
    only: OnlyOption = "",
    shapes: ShapesOption = None,
    repetition: RepetitionOption = None,
    json: JsonOption = False,
    csv: CsvOption = False,
    db: DatabaseOption = None,
) -> None:
    """Tell what a line, a player, a tune, a section or the whole corpus does, in figures.

    Roots, degrees, chord, scale and outside notes by beat and function, approaches, intervals, leaps, register over the
    form, rhythm, parent scales, named shapes, and how much of the line is made of figures that recur in the corpus,
    of clichés that several players share, of the player's own; each with the number of notes it rests on and a 95 %
    interval (Wilson's for shares, a bootstrap of whole bars for means and for shapes and figures).

    Examples:

      wellworn profile 3

      wellworn profile --player quist --section B --only roots,rhythm

      wellworn profile --tune blues --json

      wellworn profile 3 --only shapes,repetition
    """
    from cli import output
    from corpus.profile.profile import profile_of
    from db.profile_lines import selected_lines
    from db.recurring import coverages

    output.one_of(json, csv)
    selection = _with_ids(selection_of(player, tune, collection, section, tempo, year), ids)
    with database_at(context, db).reading() as connection:
        lines = selected_lines(connection, selection)
        (covered,) = coverages(connection, [lines], shapes, repetition)
    found = profile_of(lines.columns, covered.shapes, covered.repeats, covered.remarks)
    measures = _only(found.measures, only)
    if json:
        output.print_json(profile_fields(found, lines.ids, measures))
    elif csv:
        output.print_csv([measure_fields(measure) for measure in measures], MEASURE_COLUMNS)
    else:
        _print_profile(found, lines.names, section, measures)


def _with_ids(selection: "Selection", ids: list[int] | None) -> "Selection":
    from dataclasses import replace

    return replace(selection, ids=tuple(dict.fromkeys(ids or ())))


def _only(measures: "tuple[Measure, ...]", only: str) -> "list[Measure]":
    """The figures of the groups asked for. Raises QueryError for an unknown group."""
    groups = list(dict.fromkeys(measure.group for measure in measures))
    wanted = [word.strip().lower() for word in only.split(",") if word.strip()]
    for word in wanted:
        if word not in groups:
            raise QueryError(f"--only {word!r} is unknown: the groups are {', '.join(groups)}")
    return [measure for measure in measures if not wanted or measure.group in wanted]


MEASURE_COLUMNS = ("key", "group", "words", "unit", "n", "count", "value", "low", "high", "method")


def measure_fields(measure: "Measure") -> dict[str, Any]:
    """A figure as ``profile --json`` tells it; shares from 0 to 1, mean pitches as MIDI numbers."""
    numbers = {
        name: None if (value := getattr(measure, name)) is None else round(value, 6)
        for name in ("value", "low", "high")
    }
    return {
        "key": measure.key,
        "group": measure.group,
        "words": measure.words,
        "unit": measure.unit,
        "n": measure.n,
        "count": measure.count,
        **numbers,
        "method": measure.method,
    }


def profile_fields(found: "Profile", ids: tuple[int, ...], measures: "list[Measure]") -> dict[str, Any]:
    """A profile as JSON tells it."""
    register = found.register
    return {
        "transcriptions": list(ids),
        "lines": found.line_count,
        "bars": found.bar_count,
        "notes": found.note_count,
        "remarks": list(found.remarks),
        "range": {
            "n": register.n,
            "lowest": register.lowest,
            "highest": register.highest,
            "tessitura": [register.tessitura_low, register.tessitura_high],
            "median": register.median,
        },
        "measures": [measure_fields(measure) for measure in measures],
    }


def counted(found: "Profile") -> str:
    """How many notes in how many bars."""
    notes, bars = found.note_count, found.bar_count
    return f"{notes:,} note{'' if notes == 1 else 's'} in {bars:,} bar{'' if bars == 1 else 's'}"


def _print_profile(found: "Profile", names: tuple[str, ...], section: str, measures: "list[Measure]") -> None:
    from cli.output import aligned, say, wrapped
    from corpus.pitch import default_spelling
    from corpus.profile.sentences import value_words

    what = names[0] if len(names) == 1 else f"{len(names)} transcriptions"
    where = f", section {section}" if section else ""
    for text in [
        *wrapped(f"{what}{where}: {counted(found)}"),
        *(line for r in found.remarks for line in wrapped(f"! {r}", "", "  ")),
    ]:
        say(text)
    rows = [
        (
            f"  {measure.words}",
            value_words(measure, measure.value),
            f"{value_words(measure, measure.low)} to {value_words(measure, measure.high)}",
            f"{measure.n:,}",
        )
        for measure in measures
        if measure.n
    ]
    lines = iter(aligned([("", "", "95 %", "n"), *rows]))
    group = ""
    say(next(lines))
    for measure in measures:
        if measure.n:
            if measure.group != group:
                group = measure.group
                say(group)
            say(next(lines))
        if measure.key == "register.pitch" and found.register.lowest is not None:
            ends = [
                default_spelling(pitch or 0)
                for pitch in (
                    found.register.lowest,
                    found.register.highest,
                    found.register.tessitura_low,
                    found.register.tessitura_high,
                )
            ]
            say(f"  range {ends[0]} to {ends[1]}; the middle four fifths of the notes {ends[2]} to {ends[3]}")
