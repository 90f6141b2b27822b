"""Blocks of a sheet: bars with chords and the statements of a figure in them, before octaves are chosen.

Where a figure goes over a progression (what is taken is said in ``fits``):

- A figure whose chords are known goes wherever the progression has chords of the same kinds with the same distances
  between their roots, and changes them when the figure does (or twice, or half, as fast: then its rhythm is doubled or
  halved). It is moved by the interval from its first root to the root there.
- A figure without chords goes on every chord that is long enough and whose third agrees with the figure's mode, moved
  from its tonic to the chord's root; over numerals it is stated once in each key, moved from tonic to tonic.

Statements do not overlap.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from corpus.harmony.hearing import kind_of
from corpus.harmony.modes import is_minor_mode
from corpus.harmony.symbols import ChordSymbol, read_symbol
from corpus.model import Meter
from corpus.pitch import Key, SpelledPitch
from corpus.sheet.frames import Frame, FrameBar
from corpus.sheet.material import Material, NoteOf, moved_symbol
from corpus.transposition import Transposition, interval_between, moved

_SCALES: Final = (Fraction(1), Fraction(2), Fraction(1, 2))


@dataclass(frozen=True, slots=True)
class Statement:
    """A figure set in a block: notes with onsets in ticks from the block's start."""

    notes: tuple[NoteOf, ...]

    @property
    def pitches(self) -> tuple[int, ...]:
        """MIDI numbers in order."""
        return tuple(note.pitch or 0 for _, _, note in self.notes)


@dataclass(frozen=True, slots=True)
class Block:
    """Bars under one key signature (None: none), and what is played in them."""

    label: str
    key: Key | None
    bars: tuple[FrameBar, ...]
    statements: tuple[Statement, ...]


def _set(material: Material, at: int, interval: Transposition, scale: Fraction = Fraction(1)) -> Statement:
    return Statement(
        tuple((at + int(o * scale), max(int(d * scale), 1), moved(note, interval)) for o, d, note in material.notes)
    )


def key_block(material: Material, key: Key, label: str) -> Block:
    """The figure once, in a key, under its own chords."""
    interval = interval_between(material.key.tonic_spelling, key.tonic_spelling)
    meter, start = material.meter, material.start_ticks
    count = -(-(start + material.length_ticks) // meter.bar_ticks)
    places = [(at, moved_symbol(symbol, interval)) for at, symbol in _placed_chords(material, count)]
    return Block(label, key, _bars(places, meter, count), (_set(material, start, interval),))


def _placed_chords(material: Material, bars: int) -> Iterator[tuple[int, ChordSymbol]]:
    """Chords in ticks from the first bar line; those without a place share the bars evenly, by whole beats."""
    meter = material.meter
    if material.are_placed:
        for index, (onset, symbol) in enumerate(material.chords):
            # The first chord is in force where the bar begins, not only where the figure does.
            yield (0 if index == 0 else material.start_ticks + onset), symbol
        return
    beats = bars * meter.numerator
    for index, (_, symbol) in enumerate(material.chords):
        yield index * beats // len(material.chords) * meter.beat_ticks, symbol


def _bars(places: Sequence[tuple[int, str]], meter: Meter, count: int) -> tuple[FrameBar, ...]:
    size = meter.bar_ticks
    return tuple(
        FrameBar(tuple((at - i * size, symbol) for at, symbol in places if i * size <= at < (i + 1) * size), meter)
        for i in range(count)
    )


def progression_block(material: Material, frame: Frame, key: Key, label: str) -> Block:
    """The figure over numerals in a key: by its chords, or stated once in the key where it has none."""
    if material.chords:
        return frame_block(material, replace(frame, key=key), label)
    interval = interval_between(material.key.tonic_spelling, key.tonic_spelling)
    meter = frame.bars[0].meter
    count = -(-(material.start_ticks + material.length_ticks) // meter.bar_ticks)
    bars = frame.bars + (FrameBar((), meter),) * (count - len(frame.bars))
    return Block(label, key, bars, (_set(material, material.start_ticks, interval),))


@dataclass(frozen=True, slots=True)
class _Place:
    """A chord of a frame: where it begins and ends, the bar line before it, and the symbol (None: unreadable)."""

    start: int
    end: int
    bar_start: int
    meter: Meter
    symbol: ChordSymbol | None


def frame_block(material: Material, frame: Frame, label: str) -> Block:
    """A frame with the figure wherever it fits; without statements where it fits nowhere."""
    places = _places(frame)
    statements: list[Statement] = []
    free = 0
    for index in range(len(places)):
        fit = _fit(material, places, index)
        if fit is not None and fit.notes[0][0] >= free:
            statements.append(fit)
            free = max(onset + length for onset, length, _ in fit.notes)
    end = places[-1].end if places else 0
    cut = tuple(Statement(tuple((o, min(d, end - o), n) for o, d, n in one.notes)) for one in statements)
    return Block(label, frame.key, frame.bars, cut)


def _places(frame: Frame) -> list[_Place]:
    """The chords of a frame; one that is only written again goes on."""
    starts: list[tuple[int, int, Meter, str]] = []
    at = 0
    for bar in frame.bars:
        for offset, text in bar.chords:
            if not starts or starts[-1][3] != text:
                starts.append((at + offset, at, bar.meter, text))
        at += bar.meter.bar_ticks
    ends = [one[0] for one in starts[1:]] + [at]
    return [
        _Place(start, end, bar_start, meter, _rooted(text))
        for (start, bar_start, meter, text), end in zip(starts, ends, strict=True)
    ]


def _rooted(text: str) -> ChordSymbol | None:
    symbol = read_symbol(text)
    return symbol if symbol is not None and symbol.root is not None else None


def _fit(material: Material, places: Sequence[_Place], index: int) -> Statement | None:
    """The figure as it would be set from a chord on, or None."""
    here = places[index]
    if here.symbol is None or here.symbol.root is None or here.meter != material.meter:
        return None
    if not material.chords:
        return _fit_root(material, here, here.symbol.root)
    run = places[index : index + len(material.chords)]
    if len(run) < len(material.chords) or not _alike(material, run):
        return None
    first = material.chords[0][1].root
    assert first is not None
    interval = interval_between(first, here.symbol.root)
    for scale in _SCALES:
        at = _start(material, run, scale)
        if at is not None:
            return _set(material, at, interval, scale)
    return None


def _fit_root(material: Material, here: _Place, root: SpelledPitch) -> Statement | None:
    assert here.symbol is not None
    if (3 in here.symbol.tones and 4 not in here.symbol.tones) != is_minor_mode(material.key.mode):
        return None
    at = _on_beat(material, here)
    if at is None or at + material.notes[-1][0] >= here.end:
        return None
    return _set(material, at, interval_between(material.key.tonic_spelling, root))


def _on_beat(material: Material, here: _Place) -> int | None:
    """Where the figure begins on a chord: on its own beat in a bar of the chord, else where the chord begins."""
    at = here.bar_start + material.start_ticks
    return at if here.start <= at < here.end else here.start


def _alike(material: Material, run: Sequence[_Place]) -> bool:
    """Whether chords are of the figure's kinds, their roots as far apart."""
    symbols = [symbol for _, symbol in material.chords]
    roots = {
        (place.symbol.root_pitch_class - symbol.root_pitch_class) % 12
        for place, symbol in zip(run, symbols, strict=True)
        if place.symbol is not None
        and place.symbol.root_pitch_class is not None
        and symbol.root_pitch_class is not None
    }
    return len(roots) == 1 and all(
        place.symbol is not None and _kind(place.symbol) == _kind(symbol)
        for place, symbol in zip(run, symbols, strict=True)
    )


def _kind(symbol: ChordSymbol) -> str:
    kind = kind_of(symbol)
    return {"T": "M", "o": "d"}.get(kind, kind)


def _start(material: Material, run: Sequence[_Place], scale: Fraction) -> int | None:
    """Where the first note stands when the figure's chords change with those of the run, or None when they do not."""
    if len(run) == 1 or not material.are_placed:
        at = _on_beat(material, run[0]) if scale == 1 else None
    else:
        at = run[1].start - int(material.chords[1][0] * scale)
        changes = zip(run[1:], material.chords[1:], strict=True)
        if any(place.start - at != int(onset * scale) for place, (onset, _) in changes):
            at = None
    if at is None or not run[0].start <= at < run[0].end:
        return None
    # Its beat in the bar is kept, unless the chord itself begins on another beat.
    if (at - run[0].bar_start - material.start_ticks * scale) % material.meter.bar_ticks and at != run[0].start:
        return None
    return at if at + int(material.notes[-1][0] * scale) < run[-1].end else None
