"""``suggest``: a line over a chart, joined from figures of the shelf or the corpus."""

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.files import ForceOption
from cli.line_files import MusicXmlOption, PdfOption, targets, write_line
from cli.options import DatabaseOption, JsonOption, chosen, database_at
from cli.play import MidiOption
from corpus.errors import QueryError, ReadingError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from corpus.check import Instrument
    from corpus.harmony.chart import Chart
    from corpus.suggest.line import BarSource, Suggestion
    from db.connection import Database
    from db.suggest import Material

_LARGEST_CHART_BYTES = 1_000_000
VarietyOption = Annotated[
    str, typer.Option("--variety", metavar="usual|high", help="Never in neighbouring bars, or as seldom as can be.")
]
ChorusOption = Annotated[
    int | None, typer.Option("--chorus", min=1, help="With an ID: this chorus's chart (else the first).")
]
SeedOption = Annotated[int, typer.Option("--seed", min=0, max=2**62, help="Chooses among lines that are equally good.")]


def suggest(
    context: typer.Context,
    chart: Annotated[
        str,
        typer.Argument(metavar="CHART", help='A chart file, a chart ("| Dm7 | G7 | C6 | % |"), or the ID of a line.'),
    ],
    origin: Annotated[
        str, typer.Option("--from", metavar="shelf|corpus", help="Where figures come from (the shelf unless empty).")
    ] = "",
    roots: Annotated[
        str, typer.Option("--roots", metavar="few|many", help="Roots on first beats and new chords.")
    ] = "",
    variety: VarietyOption = "usual",
    player: Annotated[str, typer.Option("--player", help="With the habits of this player (part of the name).")] = "",
    instrument: Annotated[str, typer.Option("--instrument", help="Whose range is kept.")] = "double bass",
    chorus: ChorusOption = None,
    seed: SeedOption = 1,
    musicxml: MusicXmlOption = None,
    midi: MidiOption = None,
    pdf: PdfOption = None,
    force: ForceOption = False,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Suggest a line over a chart: kept figures over the functions they are known to fit, joined smoothly.

    A figure is transposed to the local key and stands only where every note has the function it had. Joints move by
    step where they can, never by more than a minor sixth; no figure stands in neighbouring bars. Beats where no figure
    fits are walked on chord tones and approach notes, and told as filled in. The same seed gives the same line.

    Examples:

      wellworn suggest "| Dm7 | G7 | Cmaj7 | % |" --from corpus

      wellworn suggest changes.txt --roots few --variety high --musicxml line.musicxml

      wellworn suggest 12 --player quist --midi line.mid
    """
    from cli import output
    from corpus.suggest.line import suggest as suggested

    paths = targets({"musicxml": musicxml, "midi": midi, "pdf": pdf}, force)
    kind = chosen(origin, ("shelf", "corpus"), "--from") if origin else ""
    on = _instrument(instrument)
    database = database_at(context, db)
    laid = _chart(database, chart, chorus)
    wishes = _wishes(database, roots, variety, player, seed)
    material, remarks = _material(database, kind)
    found = suggested(laid, material.sources, on, wishes)
    remarks += found.remarks
    if json:
        output.print_json(_fields(found, seed, remarks))
    else:
        _print(found, remarks)
    write_line(found.line, [(source.group, first, last) for source, first, last in found.places], paths)


def _instrument(name: str) -> "Instrument":
    from corpus.check import INSTRUMENTS, instrument_of

    found = instrument_of(name)
    if found is None:
        names = ", ".join(dict.fromkeys(known.name for known in INSTRUMENTS))
        raise QueryError(f"--instrument {name[:40]!r} has no known range: {names}")
    return found


def _chart(database: "Database", text: str, chorus: int | None) -> "Chart":
    """The chart of a file, of an ID, or as typed. Raises ReadingError with line and column, or QueryError."""
    from corpus.harmony.chart import chart_of, parse_chart
    from db.catalogue import load

    if text.strip().isdigit():
        with database.reading() as connection:
            _, line = load(connection, min(int(text), 2**62))
        return chart_of(line, chorus or 1)
    if chorus is not None:
        raise QueryError("--chorus goes with the ID of a line: a chart has no choruses")
    if not text.strip():
        raise QueryError("the chart is empty: give a file, chords between bar lines, or an ID")
    path = _file(text)
    if path is None:
        if "|" not in text and (text.endswith(".txt") or "\\" in text):
            raise ReadingError(f"chart {text[:80]!r} is no file, and no chords: write them between bar lines")
        return parse_chart(text, "the chart typed")
    try:
        if path.stat().st_size > _LARGEST_CHART_BYTES:
            raise ReadingError(f"chart {path} is too large to be a chart")
        return parse_chart(path.read_text(encoding="utf-8-sig"), path.name)
    except OSError as error:
        raise ReadingError(f"chart {path} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise ReadingError(f"chart {path} is no text in UTF-8 (byte {error.start})") from error


def _file(text: str) -> Path | None:
    try:
        path = Path(text).expanduser()
        return path if path.is_file() else None
    except (OSError, ValueError, RuntimeError):  # too long for a name, or none at all
        return None


def _wishes(database: "Database", roots: str, variety: str, player: str, seed: int) -> Any:
    from corpus.suggest.costs import Wishes
    from db.suggest import player_habits

    habits = None
    if player:
        with database.reading() as connection:
            habits = player_habits(connection, player)
    few_or_many: Any = chosen(roots, ("few", "many"), "--roots") if roots else ""
    how_much: Any = chosen(variety, ("usual", "high"), "--variety")
    return Wishes(few_or_many, how_much, habits, seed)


def _material(database: "Database", origin: str) -> "tuple[Material, list[str]]":
    """The figures to join, and what has to be said about them."""
    from db.suggest import corpus_material, shelf_material

    remarks: list[str] = []
    if origin != "corpus":
        with database.reading() as connection:
            material = shelf_material(connection)
        if material.count or origin == "shelf":
            if not material.count:
                remarks.append("the shelf is empty: the whole line is filled in ('wellworn shelf add' keeps a figure)")
            return material, remarks + _left_out(material)
        remarks.append("the shelf is empty: figures of the corpus are used")
    material = corpus_material(database)
    if not material.count:
        remarks.append("the corpus holds no recurring figure: the whole line is filled in")
    return material, remarks + _left_out(material)


def _left_out(material: "Material") -> list[str]:
    counts = Counter(material.unusable.values())
    return [f"{count} of {material.count} figures cannot be used: {why}" for why, count in sorted(counts.items())]


def _source_words(bar: "BarSource") -> str:
    if bar.source is None:
        return "filled in" if bar.note_count else "rest: no chord"
    return bar.source.group


def _places(found: "Suggestion") -> "list[str]":
    """Each figure once: where it was played, and in which bars it stands now, how far away."""
    from corpus.pitch import transposition_name

    bars: dict[str, dict[str, None]] = {}
    for bar in found.bars:
        if bar.source is not None:
            origin = f", {bar.source.origin}" if bar.source.origin else ""
            place = f"bar {found.line.bars[bar.bar_index].number} {transposition_name(bar.transposed)}"
            bars.setdefault(f"{bar.source.group}{origin}", {})[place] = None
    return [f"{name}: {'; '.join(places)}" for name, places in sorted(bars.items())]


def _bar_notes(found: "Suggestion", bar: "BarSource", *, marked: bool) -> list[str]:
    """Names of a bar's notes; filled ones in parentheses where they are marked in a bar with a figure."""
    filled = set(bar.filled) if marked and bar.source is not None else set()
    return [
        f"({note.spelling})" if index in filled else note.spelling
        for index, note in enumerate(found.line.notes)
        if note.bar_index == bar.bar_index
    ]


def _bar_chords(found: "Suggestion", bar: "BarSource") -> list[str]:
    place = found.line.bars[bar.bar_index]
    spans = found.line.chords_between(place.onset_ticks, place.onset_ticks + place.length_ticks)
    return [span.symbol for span in spans]


def _print(found: "Suggestion", remarks: "Sequence[str]") -> None:
    from cli.output import aligned, plain, say, tell, wrapped

    rows = [
        (
            str(found.line.bars[bar.bar_index].number),
            " ".join(_bar_chords(found, bar)),
            " ".join(_bar_notes(found, bar, marked=True)) or "-",
            _source_words(bar),
        )
        for bar in found.bars
    ]
    for text in aligned([("bar", "chords", "notes", "from"), *rows]):
        say(plain(text))
    say()
    for text in _places(found):
        for words in wrapped(plain(text), others="  "):
            say(words)
    for text in _summary(found):
        for words in wrapped(text):
            say(words)
    for remark in remarks:
        tell(f"! {remark}")


def _summary(found: "Suggestion") -> list[str]:
    with_figure = sum(bar.source is not None for bar in found.bars)
    filled = sum(len(bar.filled) for bar in found.bars)
    figures = f"{len(found.figures)} figure{'' if len(found.figures) == 1 else 's'}"
    strong = round(100 * found.strong_tones / found.strong) if found.strong else 0
    return [
        f"{with_figure} of {len(found.bars)} bars from {figures}; {filled} of "
        f"{len(found.line.notes)} notes filled in (in parentheses beside a figure)",
        f"roots on {found.roots} of {found.first_beats} first beats; {strong} % of the notes on strong beats are chord "
        "tones",
    ]


def _fields(found: "Suggestion", seed: int, remarks: "Sequence[str]") -> dict[str, Any]:
    """A suggestion as ``suggest --json`` tells it; onsets and durations in quarters, pitches sounding."""
    from corpus.model import TICKS_PER_QUARTER

    filled = {index for bar in found.bars for index in bar.filled}
    return {
        "title": found.line.details.title or None,
        "instrument": found.line.details.instrument,
        "seed": seed,
        "price": found.price,
        "figures": found.figures,
        "first_beats": found.first_beats,
        "roots": found.roots,
        "strong": found.strong,
        "strong_chord_tones": found.strong_tones,
        "remarks": list(remarks),
        "bars": [
            {
                "bar": found.line.bars[bar.bar_index].number,
                "chords": _bar_chords(found, bar),
                "figure": bar.source.group if bar.source else None,
                "origin": (bar.source.origin or None) if bar.source else None,
                "transposed": bar.transposed if bar.source else None,
                "notes": [
                    {
                        "onset": round(note.onset_ticks / TICKS_PER_QUARTER, 6),
                        "duration": round(note.duration_ticks / TICKS_PER_QUARTER, 6),
                        "pitch": note.pitch,
                        "spelling": note.spelling,
                        "filled": index in filled,
                    }
                    for index, note in enumerate(found.line.notes)
                    if note.bar_index == bar.bar_index
                ],
            }
            for bar in found.bars
        ],
    }
