"""``find``: where a figure comes back."""

from typing import TYPE_CHECKING, Annotated, cast

import typer

from cli.files import ForceOption
from cli.hits import hits_output
from cli.near import near_options, total_words
from cli.notation import (
    HitsPageOption,
    HitsPdfOption,
    PageNotesOption,
    PaperOption,
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
from db.asking import Asked, answer_of

if TYPE_CHECKING:
    from corpus.match.exact import Rhythm
    from corpus.match.figure import Folds

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
    table: Annotated[
        str | None,
        typer.Option(
            "--table",
            metavar="FILE",
            help="Write a row a place: FILE ends in .csv, .jsonl or .parquet.",
            rich_help_panel=OUTPUT_PANEL,
        ),
    ] = None,
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
    from cli.output import tell

    shown = hits_output(json, csv, show_map, pdf, paper, page, page_notes, table, force)
    folds, how = _folds_and_rhythm(ignore, rhythm)
    selection = selection_of(player, tune, collection, section, tempo, year)
    around = context_of(over, level, first_over, last_over, starts_on, lands_on, form_bar, beat)
    database = database_at(context, db)
    figure = one_figure(
        database, like, notes=notes, intervals=intervals, steps=steps, contour=contour, roles=roles, degrees=degrees
    )
    how_near = near_options(near, threshold, prices, also, sequence)
    most = limit or (_SHOWN_UNASKED if shown.is_for_people or near else None)
    question = Asked(figure, folds, how, selection, around, how_near)
    asked, answer = question.text, answer_of(database, question, most)
    shown.show(answer, figure, asked, how_near.is_plain)
    tell(total_words(answer, asked, near))
    if answer.is_stopped:
        raise typer.Exit(130)


def _folds_and_rhythm(ignore: str, rhythm: str) -> "tuple[Folds, Rhythm]":
    """What to ignore, and how much rhythm counts. Raises QueryError for unknown words."""
    from corpus.match.figure import Folds

    return Folds.parse(ignore), cast("Rhythm", chosen(rhythm, ("any", "stretched", "same"), "--rhythm"))
