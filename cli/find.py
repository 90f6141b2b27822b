"""``find``: where a figure comes back."""

from typing import TYPE_CHECKING, Annotated, cast

import typer

from cli.options import (
    OUTPUT_PANEL,
    CollectionOption,
    ContourOption,
    CsvOption,
    DatabaseOption,
    IgnoreOption,
    IntervalsOption,
    JsonOption,
    LikeOption,
    LimitOption,
    NotesOption,
    PlayerOption,
    RhythmOption,
    SectionOption,
    StepsOption,
    TempoRangeOption,
    TuneOption,
    YearRangeOption,
    chosen,
    database_at,
    one_figure,
    selection_of,
)

if TYPE_CHECKING:
    from corpus.match.exact import Rhythm
    from db.search import Answer, Hit

_SHOWN_UNASKED = 40


def find(
    context: typer.Context,
    notes: NotesOption = None,
    intervals: IntervalsOption = None,
    steps: StepsOption = None,
    contour: ContourOption = None,
    like: LikeOption = None,
    ignore: IgnoreOption = "",
    rhythm: RhythmOption = "any",
    player: PlayerOption = "",
    tune: TuneOption = "",
    section: SectionOption = "",
    collection: CollectionOption = "",
    tempo: TempoRangeOption = "",
    year: YearRangeOption = "",
    limit: LimitOption = None,
    show_map: Annotated[
        bool, typer.Option("--map", help="Draw the chorus maps of the hits.", rich_help_panel=OUTPUT_PANEL)
    ] = False,
    json: JsonOption = False,
    csv: CsvOption = False,
    db: DatabaseOption = None,
) -> None:
    """Find where a figure comes back, in any key.

    Ask in one way: --notes, --intervals, --steps, --contour, or --like a passage that is in the database. Transposition
    never matters; --ignore octaves, doubles (repeated notes) or mode (major and minor form) lets more through.

    Examples:

      wellworn find --notes "Bb2 D3 Eb3 E3"

      wellworn find --like 3 1-2 --ignore octaves,doubles --rhythm stretched --map

      wellworn find --intervals "+4 +1 +1" --player quist --tempo 160- --json
    """
    from cli import output
    from corpus.match.figure import Folds
    from db.search import Question, search

    output.one_of(json, csv)
    folds, how = Folds.parse(ignore), chosen(rhythm, ("any", "stretched", "same"), "--rhythm")
    selection = selection_of(player, tune, collection, section, tempo, year)
    database = database_at(context, db)
    figure = one_figure(database, notes, intervals, steps, contour, like)
    question = Question(figure, folds, cast("Rhythm", how), selection)
    most = limit or (None if json or csv or show_map else _SHOWN_UNASKED)
    with database.reading() as connection:
        answer = search(connection, question, most)
    fields = [output.hit_fields(hit) for hit in answer.hits] if json or csv else []
    if json:
        output.print_json(fields)
    elif csv:
        output.print_csv(fields, output.HIT_COLUMNS)
    else:
        print_hits(answer)
    if show_map and not (json or csv):
        print_maps(answer, figure.text)
    output.tell(_total(answer, figure.text))


def _total(answer: "Answer", figure_text: str) -> str:
    if not answer.total:
        return f"{figure_text}: not found; --ignore octaves,doubles,mode lets more through"
    shown = f", {len(answer.hits):,} shown" if len(answer.hits) < answer.total else ""
    return f"{figure_text}: {answer.total:,} place{'' if answer.total == 1 else 's'}{shown}"


def by_transcription(answer: "Answer") -> "dict[int, list[Hit]]":
    """The hits by the ID of their transcription."""
    groups: dict[int, list[Hit]] = {}
    for hit in answer.hits:
        groups.setdefault(hit.entry.id, []).append(hit)
    return groups


def heading(hit: "Hit") -> str:
    """A transcription in one line: ID, tune, player."""
    details = hit.entry.details
    return f"{hit.entry.id}  {details.title}" + (f", {details.player}" if details.player else "")


def print_hits(answer: "Answer") -> None:
    """The hits as a table, a heading for each transcription."""
    from cli.output import aligned, hit_row, say

    headings = ("chorus", "section", "bar", "beat", "transposed", "notes", "chords")
    groups = by_transcription(answer)
    rows = iter(aligned([headings, *(hit_row(hit) for hits in groups.values() for hit in hits)]))
    if groups:
        say(f"    {next(rows)}")
    for hits in groups.values():
        say(heading(hits[0]))
        for _ in hits:
            say(f"    {next(rows)}")


def print_maps(answer: "Answer", figure_text: str) -> None:
    """The maps of the choruses that hold hits."""
    from cli.chorus_map import Marked, chorus_map
    from cli.output import say

    for hits in by_transcription(answer).values():
        transcription = hits[0].transcription
        choruses = {transcription.bar_of(hit.occurrence.first).chorus for hit in hits}
        marked = Marked("A", figure_text, [hit.occurrence for hit in hits])
        lines = chorus_map(transcription, [marked], only=choruses)
        for line in ["", heading(hits[0]), *lines]:
            say(line)
    if answer.hits:
        say(f"\nA = {figure_text}")
