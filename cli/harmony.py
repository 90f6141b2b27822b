"""``harmony`` and ``chart``: what the chords of a transcription do, and its chart as text."""

from itertools import groupby
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.options import DatabaseOption, IdArgument, JsonOption, database_at
from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.harmony.analysis import Analysis
    from corpus.model import Transcription

LEVEL_NAMES = (
    "as written",
    "the ii of a ii-V left out",
    "ii and passing vi left out",
    "one key centre for each passage",
)


def harmony(
    context: typer.Context,
    identity: IdArgument,
    level: Annotated[
        int | None, typer.Option("--level", min=0, max=3, help="Only this simplification level, 0 to 3.")
    ] = None,
    chorus: Annotated[int | None, typer.Option("--chorus", min=1, help="Only this chorus.")] = None,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Show the harmony of a transcription: chords, numerals and local keys, named progressions, form.

    Levels: 0 as written, 1 the ii of a ii-V left out, 2 ii and passing vi left out, 3 one key centre for each passage.

    Examples:

      wellworn harmony 3 --level 1

      wellworn harmony 3 --json
    """
    from cli import output
    from corpus.harmony.analysis import analyse
    from db.catalogue import load

    with database_at(context, db).reading() as connection:
        _, line = load(connection, identity)
    last = max((bar.chorus for bar in line.bars), default=1)
    if chorus is not None and chorus > last:
        raise QueryError(f"there is no chorus {chorus}: the line has {last}")
    analysis = analyse(line)
    levels = range(4) if level is None else [level]
    if json:
        output.print_json(_fields(identity, line, analysis, list(levels), chorus))
        return
    if not analysis.spans:
        output.tell(f"transcription {identity} has no chord symbols: lay a chart over it (wellworn add --chart)")
        return
    for number in levels:
        _print_level(line, analysis, number, chorus)
    _print_summary(analysis)


def _fields(
    identity: int, line: "Transcription", analysis: "Analysis", levels: list[int], chorus: int | None
) -> dict[str, Any]:
    return {
        "transcription": identity,
        "home": str(analysis.home) if analysis.home else None,
        "form": str(analysis.form.form) if analysis.form else None,
        "spans": [row for level in levels for row in _span_fields(line, analysis, level, chorus)],
        "progressions": [
            row
            for level in levels
            for row in _progression_fields(line, analysis, level)
            if chorus in (None, row["chorus"])
        ],
    }


def _span_fields(line: "Transcription", analysis: "Analysis", level: int, chorus: int | None) -> list[dict[str, Any]]:
    from cli.output import span_fields

    rows: list[dict[str, Any]] = []
    texts = [chord.symbol_text for chord in analysis.spans]
    for span in analysis.levels[level]:
        place = span_fields(line, span.onset_ticks, span.end_ticks)
        if chorus in (None, place["chorus"]):
            rows.append(
                {
                    "level": level,
                    **place,
                    "symbol": " ".join(symbol for symbol, _ in groupby(texts[slice(*span.chords)])),
                    "numeral": str(span.numeral) if span.numeral else None,
                    "key": {"tonic": span.key.tonic, "mode": span.key.mode} if span.key else None,
                }
            )
    return rows


def _progression_fields(line: "Transcription", analysis: "Analysis", level: int) -> list[dict[str, Any]]:
    from cli.output import span_fields

    return [
        {
            "level": level,
            "name": str(found),
            **span_fields(line, found.onset_ticks, found.end_ticks),
            "key": str(found.key),
        }
        for found in analysis.progressions_at(level)
    ]


def _print_level(line: "Transcription", analysis: "Analysis", level: int, chorus: int | None) -> None:
    """The chart at a level, and the progressions that have a name there."""
    from cli.output import aligned, say

    say(f"Level {level}: {LEVEL_NAMES[level]}")
    rows = []
    key = ""
    for span in _span_fields(line, analysis, level, chorus):
        here = f"{span['key']['tonic']} {span['key']['mode']}" if span["key"] else ""
        rows.append(
            (str(span["bar"]), f"{span['beat']:g}", span["symbol"], span["numeral"] or "-", here if here != key else "")
        )
        key = here
    named = [
        (str(row["bar"]), f"{row['beat']:g}", row["name"], row["key"])
        for row in _progression_fields(line, analysis, level)
        if chorus in (None, row["chorus"])
    ]
    for text in aligned([("bar", "beat", "chords", "numeral", "key"), *rows]):
        say(text)
    for text in aligned([("bar", "beat", "named progression", "in"), *named]) if named else []:
        say(text)
    say()


def _print_summary(analysis: "Analysis") -> None:
    from cli.output import say

    if analysis.home:
        say(f"Home key: {analysis.home}")
    if analysis.form:
        say(f"Form: {analysis.form.name} ({analysis.form.form})")
    for finding in analysis.findings:
        say(f"{finding.place}: {finding.text}" if finding.place else finding.text)


def chart(
    context: typer.Context,
    identity: IdArgument,
    chorus: Annotated[int | None, typer.Option("--chorus", min=1, help="Only this chorus.")] = None,
    db: DatabaseOption = None,
) -> None:
    """Print the chart of a transcription as text that 'add --chart' reads.

    Bars between bar lines, chords sharing the bar evenly; . holds a chord for one more share; % repeats the bar
    before; [A] begins a section; x2 at the end of a line plays it twice, |: :| too; N.C. is no chord; # begins a
    comment line; title:, key:, meter: and form: may stand before the first bar.

    Example:

      wellworn chart 3 --chorus 1
    """
    from cli.output import say
    from corpus.harmony.chart import chart_of, print_chart
    from db.catalogue import load

    with database_at(context, db).reading() as connection:
        _, line = load(connection, identity)
    say(print_chart(chart_of(line, chorus)).rstrip("\n"))
