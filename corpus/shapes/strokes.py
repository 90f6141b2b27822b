"""A line made ready for shapes: strokes (a pitch struck once or several times in a row), phrases, chords, strength."""

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final, NamedTuple

from corpus.harmony.roles import Harmony
from corpus.harmony.symbols import ChordSymbol
from corpus.model import Transcription
from corpus.pitch import Key, SpelledPitch, parse_spelling

NO_METER: Final = -1
"""The strength of notes whose place in a bar is not known."""
_NOWHERE: Final = -1


class Stroke(NamedTuple):
    """One pitch, struck once or several times in a row: notes ``first`` to ``last``.

    ``position`` is the staff position of its spelling (``corpus.pitch``); ``region`` the index of its chord, None
    where there is none; ``strength`` 3 for the first beat of a bar, 2 for the middle beat of a bar of four or six and
    where the chord changes, 1 for another beat, 0 between beats, ``NO_METER`` where nothing is known. Times in ticks.
    """

    pitch: int
    position: int
    spelling: str
    first: int
    last: int
    onset_ticks: int
    end_ticks: int
    region: int | None
    strength: int

    @property
    def strikes(self) -> int:
        """How often it is struck."""
        return self.last - self.first + 1

    @property
    def name(self) -> SpelledPitch:
        """Its spelling without octave."""
        spelled = parse_spelling(self.spelling)
        return SpelledPitch(spelled.letter, spelled.alteration, None)


@dataclass(frozen=True, slots=True)
class Region:
    """A chord as it is heard: neighbouring symbols of the same chord are one. ``key`` is the local key at its start."""

    onset_ticks: int
    end_ticks: int
    symbol: ChordSymbol
    root: SpelledPitch
    key: Key | None

    @property
    def root_pitch_class(self) -> int:
        """Semitones of the root above C."""
        return self.root.pitch_class


@dataclass(frozen=True, slots=True)
class Ready:
    """A line made ready.

    ``phrases`` are the strokes between silences of a beat and more, and dead notes; ``passages`` those between
    silences of a bar and more, and dead notes. ``key`` is the line's own, for where no chord tells one.
    """

    phrases: tuple[tuple[Stroke, ...], ...]
    passages: tuple[tuple[Stroke, ...], ...]
    regions: tuple[Region, ...]
    key: Key | None = None
    bar_ticks: int = 0

    def chord(self, stroke: Stroke) -> Region | None:
        """The chord of a stroke."""
        return None if stroke.region is None else self.regions[stroke.region]


def regions_of(harmony: Sequence[Harmony]) -> tuple[Region, ...]:
    """The chords as they are heard: a symbol written again is the same chord; N.C. and unreadable ones are none."""
    found: list[Region] = []
    for span in harmony:
        symbol = span.symbol
        if symbol is None or symbol.root is None:
            continue
        before = found[-1] if found else None
        joined = before is not None and before.end_ticks == span.onset_ticks
        if before is not None and joined and before.symbol.canonical == symbol.canonical:
            found[-1] = Region(before.onset_ticks, span.end_ticks, before.symbol, before.root, before.key)
        else:
            found.append(Region(span.onset_ticks, span.end_ticks, symbol, symbol.root, span.key))
    return tuple(found)


def ready(transcription: Transcription, harmony: Sequence[Harmony]) -> Ready:
    """A line made ready. Cost: linear in notes."""
    regions = regions_of(harmony)
    strokes = _strokes(transcription, regions)
    lengths = [bar.meter.bar_ticks for bar in transcription.bars]
    beats = [bar.meter.beat_ticks for bar in transcription.bars]
    bars = [note.bar_index for note in transcription.notes]
    return Ready(
        _parted(strokes, [beats[index] for index in bars]),
        _parted(strokes, [lengths[index] for index in bars]),
        regions,
        transcription.details.key,
        Counter(lengths).most_common(1)[0][0] if lengths else 0,
    )


def _strokes(transcription: Transcription, regions: Sequence[Region]) -> list[Stroke]:
    onsets = [region.onset_ticks for region in regions]
    changes = set(onsets)
    # What is asked of the bar for every note: its beginning, its beat, its middle (or a place where no note begins).
    bars = [
        (
            bar.onset_ticks - bar.padding_ticks,
            bar.meter.beat_ticks,
            bar.meter.bar_ticks // 2 if bar.meter.numerator in (4, 6) else _NOWHERE,
        )
        for bar in transcription.bars
    ]
    found: list[Stroke] = []
    for index, note in enumerate(transcription.notes):
        pitch, onset, end = note.pitch, note.onset_ticks, note.end_ticks
        if pitch is None:
            continue
        begin, beat, middle = bars[note.bar_index]
        if found:
            before = found[-1]
            if before.pitch == pitch and before.last == index - 1 and onset - before.end_ticks < beat:
                found[-1] = before._replace(last=index, end_ticks=end)
                continue
        place = onset - begin
        strength = 3 if place == 0 else 2 if place == middle or onset in changes else 1 if place % beat == 0 else 0
        position = _position(note.spelling)
        region = _region_at(onset, end, beat, regions, onsets) if regions else None
        found.append(Stroke(pitch, position, note.spelling, index, index, onset, end, region, strength))
    return found


@lru_cache(maxsize=4096)
def _position(spelling: str) -> int:
    return parse_spelling(spelling).staff_position


def _region_at(onset: int, end: int, beat: int, regions: Sequence[Region], onsets: Sequence[int]) -> int | None:
    """The chord of a note; one that is tied into a chord less than a beat ahead belongs to that chord."""
    index = bisect_right(onsets, onset) - 1
    if index + 1 < len(regions) and onsets[index + 1] < end and onsets[index + 1] - onset < beat:
        return index + 1
    return index if index >= 0 and onset < regions[index].end_ticks else None


def _parted(strokes: Sequence[Stroke], silences: Sequence[int]) -> tuple[tuple[Stroke, ...], ...]:
    """The strokes between dead notes and silences; ``silences`` are the shortest that part, for every note."""
    cuts = [
        place
        for place, (before, stroke) in enumerate(pairwise(strokes), start=1)
        if before.last != stroke.first - 1 or stroke.onset_ticks - before.end_ticks >= silences[stroke.first]
    ]
    return tuple(tuple(strokes[start:end]) for start, end in pairwise([0, *cuts, len(strokes)]) if start < end)
