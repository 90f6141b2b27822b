"""A suggested line: the cheapest row of units as a transcription, and for each bar the figure that it comes from."""

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from corpus.check import Instrument
from corpus.harmony.chart import Chart
from corpus.harmony.roles import degree_in
from corpus.harmony.symbols import ChordSymbol
from corpus.model import Note, Transcription
from corpus.pitch import LETTER_SEMITONES, SpelledPitch, default_spelling, parse_spelling
from corpus.suggest.costs import Wishes
from corpus.suggest.ground import Ground, ground_of
from corpus.suggest.search import cheapest
from corpus.suggest.source import Source
from corpus.suggest.units import Candidates, PlacedNote, Unit

ROUNDS: Final = 8
_AGAIN: Final = 6
"""What high variety charges for each pair of places of one figure."""


@dataclass(frozen=True, slots=True)
class BarSource:
    """Where a bar comes from: a figure (None for none), how far it was transposed, and which notes were filled in.

    ``filled`` are indexes of notes of the line that no figure gave.
    """

    bar_index: int
    source: Source | None
    transposed: int
    filled: tuple[int, ...]
    note_count: int


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A line, what each bar of it comes from, its price, and remarks on what could not be done."""

    line: Transcription
    bars: tuple[BarSource, ...]
    price: int
    first_beats: int
    roots: int
    strong: int
    strong_tones: int
    remarks: tuple[str, ...]

    @property
    def figures(self) -> dict[str, int]:
        """In how many bars each figure stands."""
        return dict(Counter(bar.source.group for bar in self.bars if bar.source is not None))

    @property
    def places(self) -> list[tuple[Source, int, int]]:
        """Each figure where it stands: its first and its last note in the line, in order."""
        filled = {index for bar in self.bars for index in bar.filled}
        given = [bar.source for bar in self.bars for _ in range(bar.note_count)]
        found: list[tuple[Source, int, int]] = []
        index = 0
        while index < len(given):
            source = given[index]
            if source is None or index in filled:
                index += 1
                continue
            found.append((source, index, index + len(source.notes) - 1))
            index += len(source.notes)
        return found


def suggest(
    chart: Chart, sources: Sequence[Source], instrument: Instrument, wishes: Wishes | None = None
) -> Suggestion:
    """The cheapest line over a chart that can be joined from figures and filled beats.

    With usual variety it is the cheapest of all rows of the candidates. With high variety figures that come again get
    dearer round by round, and the best of ``ROUNDS`` rows is taken, each pair of places of one figure charged: that is
    an approximation. Raises QueryError when the chart has no chord that can be read, or no line can be joined.
    """
    wishes = wishes or Wishes()
    ground = ground_of(chart, instrument)
    names = {group: index for index, group in enumerate(dict.fromkeys(source.group for source in sources))}
    groups = [names[source.group] for source in sources]
    units = Candidates(ground, sources, wishes).units()
    row, price = _various(units, groups, wishes) if wishes.variety == "high" else cheapest(units, groups, wishes)
    found = _told(ground, row, price, sources)
    if sources and not found.figures:
        words = (
            f"none of the {len(names)} figures is in the line" if len(names) > 1 else "the figure is not in the line"
        )
        remark = f"{words}: over this chart they have no place, or none that can be joined"
        found = replace(found, remarks=(*found.remarks, remark))
    return found


def _various(units: Sequence[Sequence[Unit]], groups: Sequence[int], wishes: Wishes) -> tuple[list[Unit], int]:
    extra = [0] * (max(groups, default=-1) + 1)
    best: tuple[int, list[Unit], int] | None = None
    for _ in range(ROUNDS):
        row, price = cheapest(units, groups, wishes, extra)
        uses = Counter(groups[unit.source] for unit in row if unit.source is not None)
        price -= sum(extra[group] * count for group, count in uses.items())
        charged = price + _AGAIN * sum(count * (count - 1) // 2 for count in uses.values())
        if best is None or charged < best[0]:
            best = (charged, row, price)
        if all(count == 1 for count in uses.values()):
            break
        for group, count in uses.items():
            extra[group] += _AGAIN * (count - 1)
    assert best is not None
    return best[1], best[2]


def _told(ground: Ground, row: Sequence[Unit], price: int, sources: Sequence[Source]) -> Suggestion:
    placed = [note for unit in row for note in unit.notes]
    onsets = [bar.onset_ticks for bar in ground.line.bars]
    names = spellings(ground, placed)
    notes = tuple(
        Note(n.onset_ticks, n.duration_ticks, n.pitch, spelling, bisect_right(onsets, n.onset_ticks) - 1)
        for n, spelling in zip(placed, names, strict=True)
    )
    line = replace(ground.line, notes=notes)
    bars: list[BarSource] = []
    for unit in row:
        for bar_index in range(unit.first_bar, unit.end_bar):
            inside = [index for index, note in enumerate(notes) if note.bar_index == bar_index]
            filled = tuple(index for index in inside if not placed[index].spelling)
            has_figure = unit.source is not None and len(filled) < len(inside)
            source = sources[unit.source] if has_figure and unit.source is not None else None
            bars.append(BarSource(bar_index, source, unit.transposed, filled, len(inside)))
    strong = [n for n in notes if ground.is_strong(line.bars[n.bar_index], n.onset_ticks)]
    first = [n for n in notes if n.onset_ticks in set(onsets)]
    tones = sum(_is_tone(ground, note) for note in strong)
    roots = sum(_is_root(ground, note) for note in first)
    return Suggestion(line, tuple(bars), price, len(first), roots, len(strong), tones, tuple(_remarks(ground)))


def _remarks(ground: Ground) -> list[str]:
    remarks = [f"{f.place}: {f.text}" if f.place else f.text for f in ground.analysis.findings]
    silent = [str(bar.number) for bar, slots in zip(ground.line.bars, ground.slots, strict=True) if not slots]
    if silent:
        remarks.append(
            f"without a chord nothing is suggested: rests in bar{'s' * (len(silent) > 1)} {', '.join(silent)}"
        )
    return remarks


def _is_tone(ground: Ground, note: Note) -> bool:
    span = ground.span_at(note.onset_ticks)
    return span is not None and span.symbol is not None and (note.pitch or 0) % 12 in span.symbol.pitch_classes


def _is_root(ground: Ground, note: Note) -> bool:
    span = ground.span_at(note.onset_ticks)
    return span is not None and span.symbol is not None and (note.pitch or 0) % 12 == span.symbol.root_pitch_class


def spellings(ground: Ground, placed: Sequence[PlacedNote]) -> list[str]:
    """Names of all notes: figures keep theirs; a filled one is a chord tone, or takes a letter beside the next."""
    found: list[str] = []
    for note in reversed(placed):
        span = ground.span_at(note.onset_ticks)
        symbol = None if span is None else span.symbol
        found.append(note.spelling or _filled_spelling(note.pitch, symbol, found[-1] if found else ""))
    return found[::-1]


def _filled_spelling(pitch: int, symbol: ChordSymbol | None, following: str) -> str:
    if symbol is not None and symbol.root is not None:
        semitones = (pitch - symbol.root.pitch_class) % 12
        if semitones in symbol.tones:
            number = int(degree_in(symbol, semitones).lstrip("b#"))
            return _on_letter(pitch, (symbol.root.letter + number - 1) % 7)
    if following:
        after = parse_spelling(following)
        away = (after.pitch or 0) - pitch
        if 0 < abs(away) <= 2:
            spelling = _on_letter(pitch, (after.letter - (1 if away > 0 else -1)) % 7)
            return default_spelling(pitch) if spelling[:2] in ("E#", "B#", "Cb", "Fb") else spelling
    return default_spelling(pitch)


def _on_letter(pitch: int, letter: int) -> str:
    """A pitch spelled on a letter, or as usual where that takes more than one accidental."""
    alteration = (pitch - LETTER_SEMITONES[letter] + 6) % 12 - 6
    if abs(alteration) > 1:
        return default_spelling(pitch)
    return str(SpelledPitch(letter, alteration, (pitch - alteration) // 12 - 1))
