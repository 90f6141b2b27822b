"""``find``: where a figure comes back."""

from typing import TYPE_CHECKING, Annotated, cast

import typer

from cli.files import ForceOption, target_of
from cli.near import near_options, print_near_hits, total_words
from cli.notation import (
    HitsPageOption,
    HitsPdfOption,
    PageNotesOption,
    PaperOption,
    print_hits_on_paper,
    write_hits_page,
)
from cli.options import (
    OUTPUT_PANEL,
    AlsoOption,
    BeatOption,
    CollectionOption,
    ContourOption,
    CsvOption,
    DatabaseOption,
    DegreesOption,
    FirstOverOption,
    FormBarOption,
    IgnoreOption,
    IntervalsOption,
    JsonOption,
    LandsOnOption,
    LastOverOption,
    LevelOption,
    LikeOption,
    LimitOption,
    NearOption,
    NotesOption,
    OverOption,
    PlayerOption,
    PricesOption,
    RhythmOption,
    RolesOption,
    SectionOption,
    SequenceOption,
    StartsOnOption,
    StepsOption,
    TempoRangeOption,
    ThresholdOption,
    TuneOption,
    YearRangeOption,
    chosen,
    context_of,
    database_at,
    one_figure,
    selection_of,
)
from corpus.errors import QueryError

if TYPE_CHECKING:
    from cli.near import HowNear
    from corpus.match.context import Context
    from corpus.match.exact import Rhythm
    from corpus.match.figure import Figure, Folds
    from db.catalogue import Selection
    from db.connection import Database
    from db.search import Answer, Hit

_SHOWN_UNASKED = 40


def find(
    context: typer.Context,
    notes: NotesOption = None,
    intervals: IntervalsOption = None,
    steps: StepsOption = None,
    contour: ContourOption = None,
    roles: RolesOption = None,
    degrees: DegreesOption = None,
    like: LikeOption = None,
    ignore: IgnoreOption = "",
    rhythm: RhythmOption = "any",
    near: NearOption = False,
    threshold: ThresholdOption = None,
    prices: PricesOption = None,
    also: AlsoOption = "",
    sequence: SequenceOption = False,
    over: OverOption = None,
    level: LevelOption = 0,
    first_over: FirstOverOption = None,
    last_over: LastOverOption = None,
    starts_on: StartsOnOption = None,
    lands_on: LandsOnOption = None,
    form_bar: FormBarOption = None,
    beat: BeatOption = None,
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
    pdf: HitsPdfOption = None,
    paper: PaperOption = "A4",
    page: HitsPageOption = None,
    page_notes: PageNotesOption = None,
    force: ForceOption = False,
    json: JsonOption = False,
    csv: CsvOption = False,
    db: DatabaseOption = None,
) -> None:
    """Find where a figure comes back, in any key; or what is played over a progression.

    Ask in one way: --notes, --intervals, --steps, --contour, --roles, --degrees, or --like a passage of a line in the
    database or in a file. Transposition never matters; --ignore octaves, doubles (repeated notes) or mode (major and
    minor form) lets more through. --near finds the figure in disguise, best first, and says what was changed; it shows
    40 places unless --limit says otherwise. --over "ii V I" wants the figure over these chord functions, or without a
    figure lists the lines played there.

    Examples:

      wellworn find --notes "Bb2 D3 Eb3 E3"

      wellworn find --like 3 1-2 --ignore octaves,doubles --rhythm stretched --map

      wellworn find --intervals "+4 +1 +1" --player quist --tempo 160- --json

      wellworn find --notes "Bb2 D3 Eb3 E3" --near --threshold 0.9

      wellworn find --like new.abc all --near --also retrograde,inversion

      wellworn find --over "ii V I" --lands-on 5 --pdf cadences.pdf --page cadences.html

      wellworn find --roles "3 5 b7 9" --first-over V --level 1
    """
    from cli import output
    from corpus.match.figure import Folds

    output.one_of(json, csv, show_map)
    path, page_path = (None if name is None else target_of(name, force) for name in (pdf, page))
    if path is not None and path == page_path:
        raise QueryError("--pdf and --page cannot go into one file: give each a name of its own")
    if page_notes is not None and page is None:
        raise QueryError("--page-notes goes onto a page: give --page FILE too")
    folds, how = Folds.parse(ignore), chosen(rhythm, ("any", "stretched", "same"), "--rhythm")
    selection = selection_of(player, tune, collection, section, tempo, year)
    around = context_of(over, level, first_over, last_over, starts_on, lands_on, form_bar, beat)
    database = database_at(context, db)
    figure = one_figure(
        database, like, notes=notes, intervals=intervals, steps=steps, contour=contour, roles=roles, degrees=degrees
    )
    most = limit or (None if (json or csv or show_map) and not near else _SHOWN_UNASKED)
    how_near = near_options(near, threshold, prices, also, sequence)
    answer, asked = _answer(database, figure, folds, cast("Rhythm", how), selection, around, most, how_near)
    fields = [output.hit_fields(hit) for hit in answer.hits] if json or csv else []
    if json:
        output.print_json(fields)
    elif csv:
        output.print_csv(fields, output.HIT_COLUMNS)
    elif how_near.is_plain:
        print_hits(answer)
    else:
        print_near_hits(answer.hits)
    if show_map:
        print_maps(answer, asked)
    if path is not None:
        print_hits_on_paper(answer, figure, asked, path, paper)
    if page_path is not None:
        write_hits_page(answer, figure, asked, page_path, page_notes)
    output.tell(total_words(answer, asked, near))
    if answer.is_stopped:
        raise typer.Exit(130)


def _answer(
    database: "Database",
    figure: "Figure | None",
    folds: "Folds",
    rhythm: "Rhythm",
    selection: "Selection",
    around: "Context",
    most: int | None,
    how_near: "HowNear",
) -> "tuple[Answer, str]":
    """The answer, and what was asked, in words. Raises QueryError when nothing was."""
    from db.search import Question, search, search_over

    if figure is None and around.over is None:
        raise QueryError(
            "say which figure: --notes, --intervals, --steps, --contour, --roles, --degrees or --like; "
            "or which progression: --over"
        )
    with database.asking() as connection:
        if figure is not None:
            question = Question(figure, folds, rhythm, selection, around)
            answer = (
                search(connection, question, most) if how_near.is_plain else how_near.answer(connection, question, most)
            )
            return answer, figure.text if around.over is None else f"{figure.text} over {around.over.text}"
        if not how_near.is_plain:
            raise QueryError("--near, --also and --sequence need a figure beside --over")
        if around.first_over is not None or around.last_over is not None or folds != type(folds)() or rhythm != "any":
            raise QueryError("--first-over, --last-over, --ignore and --rhythm need a figure beside --over")
        assert around.over is not None
        return search_over(connection, around, selection, most), f"over {around.over.text}"


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
    from cli.chorus_map import chorus_map, marked_figure
    from cli.output import say

    for hits in by_transcription(answer).values():
        transcription = hits[0].transcription
        choruses = {transcription.bar_of(hit.occurrence.first).chorus for hit in hits}
        marked = marked_figure("A", figure_text, transcription, [hit.occurrence for hit in hits])
        lines = chorus_map(transcription, [marked], only=choruses)
        for line in ["", heading(hits[0]), *lines]:
            say(line)
    if answer.hits:
        say(f"\nA = {figure_text}")
