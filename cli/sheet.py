"""``practice sheet``: a figure in all keys, or along a progression, on paper and as sound."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from cli.files import ForceOption, target_of, write_files
from cli.notation import PaperOption, sheet_of
from cli.options import OUTPUT_PANEL, DatabaseOption, IntervalsOption, LikeOption, NotesOption, chosen, database_at
from cli.play import CountInOption, MetronomeOption, MidiOption
from cli.practice import CAUTION
from cli.shelf import LengthsOption
from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.harmony.chart_text import Chart
    from corpus.model import Details, Transcription
    from corpus.pitch import Key
    from corpus.sheet.material import Material
    from corpus.sheet.ranges import Range
    from corpus.sheet.sheet import Sheet
    from corpus.shelf.kept import KeptFigure
    from corpus.write.below import Below
    from db.connection import Database

KEYS_PANEL = "Keys and progression"
SHEET_PANEL = "The sheet"
_DEFAULT_TEMPO = 80.0
_MOST_VARIANTS = 12
_LARGEST_CHART_BYTES = 1_000_000


def sheet(
    context: typer.Context,
    figure: Annotated[str | None, typer.Argument(metavar="[FIGURE]", help="The name of a figure on the shelf.")] = None,
    notes: NotesOption = None,
    intervals: IntervalsOption = None,
    like: LikeOption = None,
    lengths: LengthsOption = None,
    key: Annotated[
        str | None,
        typer.Option("--key", help="The figure's own key, if not the one known.", rich_help_panel=KEYS_PANEL),
    ] = None,
    order: Annotated[
        str | None,
        typer.Option(
            "--order", metavar="ORDER", help='fourths, chromatic, or keys: "C F Bb".', rich_help_panel=KEYS_PANEL
        ),
    ] = None,
    over: Annotated[
        str | None,
        typer.Option("--over", metavar="NUMERALS", help='Along a progression: "ii V I".', rich_help_panel=KEYS_PANEL),
    ] = None,
    chart: Annotated[
        str | None, typer.Option("--chart", metavar="FILE", help="Along a chart file.", rich_help_panel=KEYS_PANEL)
    ] = None,
    form: Annotated[
        str | None,
        typer.Option(
            "--form", metavar="NAME", help="Along a blues, minor blues, 32-bar I-VI-ii-V.", rich_help_panel=KEYS_PANEL
        ),
    ] = None,
    instrument: Annotated[
        str, typer.Option("--instrument", help="Whose range and clef.", rich_help_panel=SHEET_PANEL)
    ] = "double bass",
    within: Annotated[
        str, typer.Option("--range", metavar="LOW-HIGH", help="Sounding, as in E1-G3.", rich_help_panel=SHEET_PANEL)
    ] = "",
    variants: Annotated[
        int,
        typer.Option(
            "--variants", min=0, max=_MOST_VARIANTS, help="So many of its family besides.", rich_help_panel=SHEET_PANEL
        ),
    ] = 0,
    ladder: Annotated[
        str,
        typer.Option("--ladder", metavar="TEMPOS", help='Start, step, goal: "80 5 120".', rich_help_panel=SHEET_PANEL),
    ] = "",
    below: Annotated[
        str,
        typer.Option("--below", metavar="degrees|roles", help="What stands below.", rich_help_panel=SHEET_PANEL),
    ] = "",
    musicxml: Annotated[
        str | None, typer.Option("--musicxml", metavar="FILE", help="MusicXML 4.0.", rich_help_panel=OUTPUT_PANEL)
    ] = None,
    midi: MidiOption = None,
    pdf: Annotated[
        str | None, typer.Option("--pdf", metavar="FILE", help="PDF pages.", rich_help_panel=OUTPUT_PANEL)
    ] = None,
    svg: Annotated[
        str | None, typer.Option("--svg", metavar="FILE", help="One endless page.", rich_help_panel=OUTPUT_PANEL)
    ] = None,
    paper: PaperOption = "A4",
    count_in: CountInOption = 1,
    metronome: MetronomeOption = False,
    chords: Annotated[bool, typer.Option("--chords", help="Simple chords in the MIDI file.")] = False,
    force: ForceOption = False,
    db: DatabaseOption = None,
) -> None:
    """Make a practice sheet: a figure in all 12 keys, or along a progression, inside your instrument's range.

    Octaves are chosen for the smallest jumps; chords stand above, degrees below. Without a file the notes are listed.
    The MIDI file plays the sheet once at each tempo of the ladder. Warm up, rest often, stop at pain, protect your
    hearing; a teacher or clinician knows more. Mind the rights in music that is not yours before you pass it on.

    Examples:

      wellworn practice sheet "Turn around F" --pdf turn.pdf --ladder "80 5 120"

      wellworn practice sheet "Turn around F" --over "ii V I" --order "C F Bb" --midi turn.mid --metronome

      wellworn practice sheet --like 12 9:1-10:1 --form blues --instrument "tenor sax" --musicxml blues.musicxml
    """
    from corpus.model import Details
    from corpus.sheet.ladder import parse_ladder
    from corpus.sheet.ranges import range_of
    from corpus.text import clean_text

    files = {"musicxml": musicxml, "midi": midi, "pdf": pdf, "svg": svg}
    paths = {kind: target_of(name, force) for kind, name in files.items() if name is not None}
    if len(set(paths.values())) < len(paths):
        raise QueryError("two kinds of sheet cannot go into one file: give each a name of its own")
    tempos = parse_ladder(ladder) if ladder else ()
    reach = range_of(instrument, within)
    database = database_at(context, db)
    materials = _materials(database, figure, like, {"notes": notes, "intervals": intervals}, lengths, key, variants)
    where = _where(over, chart, form)
    title = (
        f"{materials[0].name}: {where or 'in all keys'}" if order is None else f"{materials[0].name}: {where or order}"
    )
    details = Details(
        title=clean_text(title), instrument=clean_text(instrument), tempo_bpm=tempos[0] if tempos else _DEFAULT_TEMPO
    )
    made = _made(materials, over, chart, form, order, reach, details)
    texts = _below(made.line, below or ("roles" if chart or form else "degrees"))
    words = _words(tempos, materials)
    contents = {path: _content(kind, made.line, texts, words, paper) for kind, path in paths.items() if kind != "midi"}
    if "midi" in paths:
        from corpus.write.midi import MidiOptions, midi_of

        contents[paths["midi"]] = midi_of(made.line, MidiOptions(tempos, count_in, metronome, chords))
    write_files(contents, force)
    _tell(made, materials, list(paths.values()))


def _materials(
    database: "Database",
    name: str | None,
    like: tuple[str, str] | None,
    typed: dict[str, str | None],
    lengths: str | None,
    key: str | None,
    variants: int,
) -> "list[Material]":
    """The figure that is asked for and variants of its family, made ready."""
    from corpus.pitch import parse_key
    from corpus.sheet.material import material_of

    is_typed = like is not None or any(text is not None for text in typed.values())
    if (name is not None) == is_typed:
        raise QueryError("say which figure, in one way: its name on the shelf, --like ID BARS, --notes or --intervals")
    figures = _asked(database, like, typed, lengths) if name is None else _shelved(database, name, lengths, variants)
    own = None if key is None else parse_key(key)
    return [material_of(figure, own if index == 0 else None) for index, figure in enumerate(figures)]


def _asked(
    database: "Database", like: tuple[str, str] | None, typed: dict[str, str | None], lengths: str | None
) -> "list[KeptFigure]":
    from cli.shelf import asked_figure

    others = dict.fromkeys(("steps", "contour", "roles", "degrees"))
    return [asked_figure(database, "Figure", like, {"notes": None, "intervals": None, **others, **typed}, lengths)]


def _shelved(database: "Database", name: str, lengths: str | None, variants: int) -> "list[KeptFigure]":
    from cli.shelf import shelved
    from corpus.shelf.kept import folded_name, named

    if lengths is not None:
        raise QueryError("a figure on the shelf has its rhythm: 'wellworn shelf edit --lengths' changes it")
    figures = shelved(database)
    found = named(figures, name)
    if not variants:
        return [found]
    family = folded_name(found.family)
    others = [one for one in figures if one is not found and family and folded_name(one.family) == family]
    if len(others) < variants:
        others += _recurring(database, found, others, variants - len(others))
    if not others:
        raise QueryError(
            f"{found.name!r} has no variants: 'wellworn shelf edit --family' gives figures one family, and 'wellworn "
            "recur' finds families in the lines"
        )
    return [found, *others[:variants]]


def _recurring(
    database: "Database", found: "KeptFigure", others: "Sequence[KeptFigure]", most: int
) -> "list[KeptFigure]":
    """Variants from the family of recurring figures that a kept one belongs to, other than those on the shelf."""
    from db.shelf_families import tie_of, variants_of

    with database.reading() as connection:
        tie = tie_of(connection, found)
        if tie is None:
            return []
        there = {one.spellings for one in others}
        wider = variants_of(connection, tie, found, most + len(others))
    return [one for one in wider if one.spellings not in there][:most]


def _where(over: str | None, chart: str | None, form: str | None) -> str:
    asked = [f"--{name}" for name, text in (("over", over), ("chart", chart), ("form", form)) if text is not None]
    if len(asked) > 1:
        raise QueryError(f"say in one way what to go over: {' and '.join(asked)} are given")
    return over or form or (Path(chart).name if chart else "")


def _made(
    materials: "Sequence[Material]",
    over: str | None,
    chart: str | None,
    form: str | None,
    order: str | None,
    reach: "Range",
    details: "Details",
) -> "Sheet":
    """The sheet, by the way that is asked for."""
    from corpus.sheet.frames import chart_frame
    from corpus.sheet.sheet import sheet_in_keys, sheet_over_form, sheet_over_frames, sheet_over_numerals

    if chart is not None:
        if order is not None:
            raise QueryError("a chart has its own key: leave --order out")
        read = _chart(chart)
        return sheet_over_frames(materials, [(None, chart_frame(read))], read.title or chart, reach, details)
    keys = _keys(order, materials[0], all_keys=form is None)
    if over is not None:
        return sheet_over_numerals(materials, over, keys, reach, details)
    if form is not None:
        return sheet_over_form(materials, form, keys, reach, details)
    return sheet_in_keys(materials, keys, reach, details)


def _keys(order: str | None, material: "Material", *, all_keys: bool) -> "tuple[Key, ...]":
    """All twelve keys, or those that are asked for; a form alone is played in the figure's own key."""
    from corpus.sheet.keys import parse_order

    if order is None and not all_keys:
        return (material.key,)
    return parse_order(order or "fourths", material.key.mode)


def _chart(name: str) -> "Chart":
    from corpus.errors import ReadingError
    from corpus.harmony.chart import parse_chart

    path = Path(name).expanduser()
    try:
        if path.stat().st_size > _LARGEST_CHART_BYTES:
            raise ReadingError(f"{name} is too large for a chart")
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as error:
        raise ReadingError(f"{name[:80]} cannot be read as a chart ({error})") from error
    return parse_chart(text, path.name)


def _below(line: "Transcription", below: str) -> dict[int, str]:
    from corpus.write.below import BELOW, below_texts

    return below_texts(line, cast("Below", chosen(below, BELOW, "--below")))


def _words(tempos: tuple[float, ...], materials: "Sequence[Material]") -> list[str]:
    """What the page says under its title: the ladder, the key where it was judged, the caution."""
    from corpus.sheet.ladder import ladder_words

    lines = [ladder_words(tempos)] if len(tempos) > 1 else []
    return [*lines, *(line.strip() for line in CAUTION.split(";"))]


def _content(kind: str, line: "Transcription", below: dict[int, str], words: list[str], paper: str) -> bytes:
    from corpus.write.engrave import EngravingOptions, svg_pages
    from corpus.write.musicxml import Page, musicxml_of
    from corpus.write.paper import pdf_of

    page = Page(below=below)
    if kind == "musicxml":
        return with_credits(musicxml_of(line, page), [line.details.title, *words]).encode("utf-8")
    if kind == "pdf":
        return pdf_of(svg_pages(line, EngravingOptions(page, paper=sheet_of(paper), words=words)))
    (svg,) = svg_pages(line, EngravingOptions(page, width_mm=190.0))
    return svg.encode("utf-8")


def with_credits(text: str, lines: Sequence[str]) -> str:
    """MusicXML with lines of text on its first page (``<credit>``), where notation programs show them."""
    # Its home imports the whole of urllib.
    from xml.sax.saxutils import escape

    words = "".join(
        f' <credit page="1">\n  <credit-words justify="center">{escape(line)}</credit-words>\n </credit>\n'
        for line in lines
    )
    return text.replace(" <part-list>", f"{words} <part-list>", 1)


def _tell(made: "Sheet", materials: "Sequence[Material]", paths: Sequence[Path]) -> None:
    from cli.output import aligned, say, tell

    first = materials[0]
    if not first.is_key_known:
        tell(f"the key is judged from the notes: {first.key}; --key says another")
    if not paths:
        for row in aligned([("bar", "chords", "notes"), *_rows(made.line)]):
            say(row)
    for path in paths:
        tell(f"{path}: {made.statements} statements, {len(made.line.bars)} bars")
    if paths:
        tell("Mind the rights in the music before you hand a sheet on.")
    tell(CAUTION)


def _rows(line: "Transcription") -> list[tuple[str, ...]]:
    """A row a bar: number and section, chords, notes."""
    rows: list[tuple[str, ...]] = []
    for index, bar in enumerate(line.bars):
        end = bar.onset_ticks + bar.length_ticks
        label = next((one.label for one in line.sections if bar.onset_ticks <= one.onset_ticks < end), "")
        chords = [chord.symbol for chord in line.chords if bar.onset_ticks <= chord.onset_ticks < end]
        notes = [note.spelling for note in line.notes if note.bar_index == index]
        rows.append((f"{bar.number} {label}".strip(), " ".join(chords), " ".join(notes)))
    return rows
