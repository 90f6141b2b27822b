"""``show`` and ``map``: one transcription, bar by bar or as a map of its choruses."""

from collections.abc import Sequence
from dataclasses import replace
from textwrap import wrap
from typing import TYPE_CHECKING, Annotated, cast

import typer

from cli.export import ConcertOption
from cli.files import ForceOption
from cli.notation import (
    BarsOption,
    BelowOption,
    FamiliesOption,
    MarkOption,
    PaperOption,
    PdfOption,
    PngOption,
    SvgOption,
    engrave,
    engraving_of,
)
from cli.options import (
    FIGURE_PANEL,
    CsvOption,
    DatabaseOption,
    IdArgument,
    IgnoreOption,
    JsonOption,
    LikeOption,
    LimitOption,
    RhythmOption,
    chosen,
    database_at,
    figure_like,
    typed_figures,
)
from corpus.errors import QueryError

if TYPE_CHECKING:
    from cli.chorus_map import Marked
    from corpus.harmony.roles import NoteRole
    from corpus.match.exact import Rhythm
    from corpus.match.figure import Figure, Folds
    from corpus.model import Transcription
    from db.catalogue import Entry


def show(
    context: typer.Context,
    identity: IdArgument,
    limit: LimitOption = None,
    json: JsonOption = False,
    csv: CsvOption = False,
    svg: SvgOption = None,
    pdf: PdfOption = None,
    png: PngOption = None,
    bars: BarsOption = "",
    below: BelowOption = "",
    mark: MarkOption = None,
    families: FamiliesOption = False,
    concert: ConcertOption = False,
    paper: PaperOption = "A4",
    force: ForceOption = False,
    db: DatabaseOption = None,
) -> None:
    """Show a transcription: its details, every bar with chords and notes, sections, and what the checks found.

    With --svg, --pdf or --png it is engraved instead, at written pitch, with brackets over marked figures.

    Examples:

      wellworn show 3

      wellworn show 3 --json

      wellworn show 3 --pdf line.pdf --below roles

      wellworn show 3 --png bars.png --bars 5-8 --mark 5:1-6:1

      wellworn show 3 --pdf line.pdf --families
    """
    from cli import output
    from db.catalogue import load

    output.one_of(json, csv)
    database = database_at(context, db)
    with database.reading() as connection:
        entry, transcription = load(connection, identity)
    files = {"svg": svg, "pdf": pdf, "png": png}
    if any(files.values()):
        options = engraving_of(
            database,
            identity,
            transcription,
            bars=bars,
            below=below,
            marks=mark or [],
            families=families,
            concert=concert,
        )
        for path in engrave(transcription, options, files, paper=paper, force=force):
            output.tell(f"{path}: {entry.details.title}")
        return
    if bars or below or mark or families or concert:
        raise QueryError(
            "--bars, --below, --mark, --families and --concert are for notation: give --svg, --pdf or --png with them"
        )
    fields = output.transcription_fields(entry, transcription)
    total = len(fields["notes"])
    fields["notes"] = fields["notes"][:limit]
    if json:
        output.print_json(fields)
    elif csv:
        output.print_csv(fields["notes"], output.NOTE_COLUMNS)
    else:
        _print_transcription(entry, transcription, limit)
    if limit is not None and limit < total:
        output.tell(f"{limit:,} of {total:,} notes shown")


def _print_transcription(entry: "Entry", transcription: "Transcription", limit: int | None) -> None:
    from cli.output import print_table, say

    for line in heading_lines(entry):
        say(line)
    say()
    headings = ("bar", "section", "chords", "numerals", "notes", "roles")
    print_table(
        headings if transcription.chords else (*headings[:2], "notes"), _bar_rows(transcription, limit), ("bar",)
    )
    if transcription.chords:
        say(f"\n{_ROLE_LEGEND}")
    if transcription.findings:
        say("\nWhat the checks found:")
    for finding in transcription.findings:
        place = f"{finding.place}: " if finding.place else ""
        say(f"  {place}{finding.text} [{finding.kind}]")


def heading_lines(entry: "Entry") -> list[str]:
    """What is known about a transcription, as lines for people."""
    details = entry.details
    by = f", {details.player}" if details.player else ""
    facts = [
        details.instrument,
        details.recording,
        "" if details.year is None else str(details.year),
        "" if details.tempo_bpm is None else f"{details.tempo_bpm:g} quarters a minute",
        str(details.key or ""),
        str(details.meter or ""),
        f"form {details.form}" if details.form else "",
        f"{entry.bar_count} bars",
        f"{entry.note_count} notes",
    ]
    known = " · ".join(fact for fact in facts if fact)
    heading = wrap(f"{entry.id}  {details.title}{by}", 80, subsequent_indent="   ")
    return [*heading, *wrap(known, 80, initial_indent="   ", subsequent_indent="   ")]


_ROLE_LEGEND = """Roles: (scale tone), [outside]; > leads into the next strong note by step, >> in a double approach,
<> in an enclosure; = repeated, ~ passing, ^ neighbour, ! anticipates the next chord."""
_MOVEMENT_SIGNS = {
    "repeated": "=",
    "anticipation": "!",
    "enclosure": "<>",
    "double approach": ">>",
    "passing": "~",
    "neighbour": "^",
}


def _role_text(role: "NoteRole | None") -> str:
    if role is None:
        return "-"
    degree = {"chord tone": role.degree, "scale tone": f"({role.degree})", "outside": f"[{role.degree}]"}[role.kind]
    return degree + (_MOVEMENT_SIGNS.get(role.movement, ">") if role.movement else "")


def _bar_rows(transcription: "Transcription", limit: int | None) -> list[tuple[str, ...]]:
    """A row a played bar, up to the bar of the last note shown: bar, section, chords, numerals, notes, roles.

    Numerals are led by their key where it changes. A line without chords has bar, section and notes only.
    """
    from cli.output import bar_text
    from corpus.harmony.analysis import analyse
    from corpus.harmony.roles import roles_of

    notes = transcription.notes[:limit]
    spans = analyse(transcription).spans
    roles = roles_of(transcription, spans)
    rows: list[tuple[str, ...]] = []
    chorus, key = 0, None
    last_bar = notes[-1].bar_index if notes and limit is not None else len(transcription.bars) - 1
    for index, bar in enumerate(transcription.bars[: last_bar + 1]):
        if bar.chorus != chorus and transcription.bars[-1].chorus > 1:
            rows.append(("", f"chorus {bar.chorus}", "", "", "", "")[: 6 if spans else 3])
        chorus = bar.chorus
        end = bar.onset_ticks + max(bar.length_ticks, 1)
        section = next((s.label for s in transcription.sections if bar.onset_ticks <= s.onset_ticks < end), "")
        numerals = []
        for span in (span for span in spans if bar.onset_ticks <= span.onset_ticks < end):
            numerals += [f"{span.key.tonic} {span.key.mode}:"] if span.key and span.key != key else []
            key = span.key or key
            numerals.append(str(span.numeral or "-"))
        here = [i for i, note in enumerate(notes) if note.bar_index == index]
        spelled = " ".join(_note_text(notes[i].spelling, notes[i].is_ghost) for i in here)
        start = (bar_text(bar.number, bar.pass_number), section)
        if not spans:
            rows.append((*start, spelled))
            continue
        chords = [span.symbol_text for span in spans if bar.onset_ticks <= span.onset_ticks < end]
        rows.append(
            (*start, " ".join(chords), " ".join(numerals), spelled, " ".join(_role_text(roles[i]) for i in here))
        )
    return rows


def _note_text(spelling: str, is_ghost: bool) -> str:
    return f"({spelling})" if is_ghost else spelling or "x"


_Repeated = list[str] | None
PassagesOption = Annotated[
    _Repeated,
    typer.Option(
        "--bars", metavar="BARS", help="A passage of this line (1-2); repeatable.", rich_help_panel=FIGURE_PANEL
    ),
]
NotesOption = Annotated[
    _Repeated, typer.Option("--notes", help="Note names; repeatable.", rich_help_panel=FIGURE_PANEL)
]
IntervalsOption = Annotated[
    _Repeated, typer.Option("--intervals", help="Semitones; repeatable.", rich_help_panel=FIGURE_PANEL)
]
StepsOption = Annotated[
    _Repeated, typer.Option("--steps", help="Letter names; repeatable.", rich_help_panel=FIGURE_PANEL)
]
ContourOption = Annotated[
    _Repeated, typer.Option("--contour", help="Up, down, repeat; repeatable.", rich_help_panel=FIGURE_PANEL)
]
NumeralLevelOption = Annotated[
    int | None, typer.Option("--level", min=0, max=3, help="Numerals of this level in place of the symbols.")
]
ProgressionsOption = Annotated[
    bool | None,
    typer.Option("--progressions/--no-progressions", help="Mark named progressions (shown when no figure is asked)."),
]


def map_chorus(
    context: typer.Context,
    identity: IdArgument,
    bars: PassagesOption = None,
    notes: NotesOption = None,
    intervals: IntervalsOption = None,
    steps: StepsOption = None,
    contour: ContourOption = None,
    like: LikeOption = None,
    ignore: IgnoreOption = "",
    rhythm: RhythmOption = "any",
    per_row: Annotated[int | None, typer.Option("--per-row", metavar="4|8", help="Bars in a row.")] = None,
    chorus: Annotated[int | None, typer.Option("--chorus", min=1, help="Only this chorus.")] = None,
    level: NumeralLevelOption = None,
    progressions: ProgressionsOption = None,
    families: Annotated[
        bool, typer.Option("--families", help="Mark what comes back in the whole corpus (see 'recur').")
    ] = False,
    db: DatabaseOption = None,
) -> None:
    """Draw the chorus map of a transcription, with figures as letters where they stand.

    Examples:

      wellworn map 3

      wellworn map 3 --bars 1-2 --notes "Bb2 D3 Eb3 E3" --ignore octaves

      wellworn map 3 --level 1 --progressions

      wellworn map 3 --families --chorus 1
    """
    from cli.chorus_map import chorus_map
    from cli.output import say
    from corpus.match.figure import Folds
    from db.catalogue import load

    if per_row not in (None, 4, 8):
        raise QueryError(f"--per-row {per_row} is not possible in 80 columns: choose 4 or 8")
    database = database_at(context, db)
    if families:
        from cli.families import line_with_families

        for text in line_with_families(database, identity, chorus):
            say(text)
        return
    with database.reading() as connection:
        entry, line = load(connection, identity)
    figures = [figure_like(database, (str(identity), passage)) for passage in bars or []]
    figures += typed_figures(notes or [], intervals or [], steps or [], contour or [])
    figures += [figure_like(database, like)] if like is not None else []
    marked = _marked(line, figures, Folds.parse(ignore), chosen(rhythm, ("any", "stretched", "same"), "--rhythm"))
    named = _named_progressions(line) if (not figures if progressions is None else progressions) else []
    # Names of progressions need the wider cells.
    per_row = per_row or (4 if named else None)
    drawn = line if level is None else _with_numerals(line, level)
    only = _only(line, chorus)
    lines = [*heading_lines(entry), "", *chorus_map(drawn, [*named, *marked], per_row, only)]
    for text in [*lines, *_legend(line, marked, only)]:
        say(text)


def _named_progressions(line: "Transcription") -> "list[Marked]":
    from cli.chorus_map import Marked
    from corpus.harmony.analysis import analyse

    found = analyse(line).progressions
    return [Marked(f"({p}", str(p), [(p.onset_ticks, p.end_ticks - 1)]) for p in found]


def _with_numerals(line: "Transcription", level: int) -> "Transcription":
    """The line with the numerals of a level where its chord symbols stood."""
    from corpus.harmony.analysis import analyse
    from corpus.model import ChordSpan

    spans = analyse(line).levels[level]
    chords = tuple(ChordSpan(str(s.numeral or "-"), s.onset_ticks, s.end_ticks) for s in spans)
    return replace(line, chords=chords)


def _only(transcription: "Transcription", chorus: int | None) -> list[int] | None:
    """The one chorus asked for, or None for all. Raises QueryError for one that the line does not have."""
    last = transcription.bars[-1].chorus
    if chorus is not None and chorus > last:
        raise QueryError(f"there is no chorus {chorus}: the line has {last}")
    return None if chorus is None else [chorus]


def _marked(transcription: "Transcription", figures: "Sequence[Figure]", folds: "Folds", rhythm: str) -> "list[Marked]":
    from cli.chorus_map import LETTERS, marked_figure
    from db.search import Question, occurrences_in

    if len(figures) > len(LETTERS):
        raise QueryError(f"{len(figures)} figures are too many for one map: at most {len(LETTERS)}")
    found = [occurrences_in(transcription, Question(figure, folds, cast("Rhythm", rhythm))) for figure in figures]
    return [
        marked_figure(letter, figure.text, transcription, occurrences)
        for letter, figure, occurrences in zip(LETTERS, figures, found, strict=False)
    ]


def _legend(line: "Transcription", marked: "Sequence[Marked]", only: list[int] | None) -> list[str]:
    """The figures by letter, with their places in the choruses that are drawn."""
    from cli.output import bar_text, transposition_words

    lines: list[str] = []
    for figure in marked:
        places = []
        for occurrence in figure.occurrences:
            bar = line.bar_of(occurrence.first)
            if only is None or bar.chorus in only:
                beat = float(line.beat_of(occurrence.first))
                place = f"bar {bar_text(bar.number, bar.pass_number)} beat {beat:.4g}"
                places.append(f"    {place} {transposition_words(occurrence.transposed)}".rstrip())
        count = f"{len(places)} place{'' if len(places) == 1 else 's'}"
        elsewhere = len(figure.occurrences) - len(places)
        more = f", {elsewhere} in other choruses" if elsewhere else ""
        lines += ["", *wrap(f"{figure.label} = {figure.name}: {count}{more}", 80, subsequent_indent="    "), *places]
    return lines
