"""Bars and beats of a MIDI file from its time signatures and tempos. Places are quarters from the file's start."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from corpus.errors import ReadingError
from corpus.model import TICKS_PER_QUARTER, Meter
from corpus.quantise.evidence import Beat
from corpus.quantise.patterns import BeatKind, Floats
from corpus.read.midi_file import Mark

_COMMON: Final = Meter(4, 4)
_DENOMINATORS: Final = (1, 2, 4, 8, 16, 32, 64)
_MOST_NUMERATOR: Final = 64
_DEFAULT_TEMPO: Final = 500_000
"""Microseconds a quarter where no tempo is told: 120 a minute, as the standard says."""
MOST_QUARTERS: Final = 20_000
"""Five thousand bars of 4/4."""
_BEAT_MS: Final = (20.0, 20_000.0)
_EIGHTH: Final = 8


@dataclass(frozen=True, slots=True)
class FileBar:
    """A bar of the file: its start and length in quarters, and the meter in force."""

    start: Fraction
    length: Fraction
    meter: Meter

    @property
    def end(self) -> Fraction:
        """Where the next bar starts."""
        return self.start + self.length


@dataclass(frozen=True)
class TempoMap:
    """When each place sounds: straight lines between ``quarters`` and ``ms``, of the last ``slope`` after them."""

    quarters: Floats
    ms: Floats
    slope: float

    def ms_between(self, start: float, end: float) -> float:
        """Milliseconds from one place to a later one."""
        return self._at(end) - self._at(start)

    def _at(self, place: float) -> float:
        if place >= self.quarters[-1]:
            return float(self.ms[-1]) + (place - float(self.quarters[-1])) * self.slope
        return float(np.interp(place, self.quarters, self.ms))


def tempo_map(marks: Sequence[tuple[Fraction, int]]) -> TempoMap:
    """The map of tempo marks (place, microseconds a quarter), in order."""
    quarters, ms, slope = [0.0], [0.0], _DEFAULT_TEMPO / 1000
    for place, tempo in marks:
        at = float(place)
        if at > quarters[-1]:
            ms.append(ms[-1] + (at - quarters[-1]) * slope)
            quarters.append(at)
        slope = max(tempo, 1) / 1000
    return TempoMap(np.array(quarters), np.array(ms), slope)


def meters_of(
    marks: Sequence[Mark], places: Sequence[Fraction], wished: Meter | None
) -> tuple[list[tuple[Fraction, Meter]], list[str]]:
    """The meters with their places, and remarks on those that cannot be; 4/4 (or what is wished) where none is told.

    Places are those of our ticks: a bar that is cut before the first of them is none.
    """
    found: list[tuple[Fraction, Meter]] = []
    remarks: list[str] = []
    for mark, place in zip(marks, places, strict=True):
        numerator, denominator = mark.value
        if denominator in _DENOMINATORS and 1 <= numerator <= _MOST_NUMERATOR:
            on_tick = Fraction(round(place * TICKS_PER_QUARTER), TICKS_PER_QUARTER)
            found.append((on_tick, Meter(numerator, denominator)))
        else:
            remarks.append("a time signature that cannot be is left out")
    if not found or found[0][0] > 0:
        found.insert(0, (Fraction(0), wished or (found[0][1] if found else _COMMON)))
        if len(found) == 1:
            remarks.append(f"no time signature: {found[0][1]} is assumed")
    return found, remarks


def file_bars(meters: Sequence[tuple[Fraction, Meter]], until: Fraction, name: str) -> list[FileBar]:
    """All bars from the file's start to the one that reaches ``until``. A new meter cuts a bar short.

    Raises ReadingError beyond ``MOST_QUARTERS``.
    """
    if until > MOST_QUARTERS:
        raise ReadingError(
            f"{name} goes on for {int(until):,} quarters; at most {MOST_QUARTERS:,} are read: cut out the silence"
        )
    bars: list[FileBar] = []
    places = [place for place, _ in meters]
    at = Fraction(0)
    while at <= until:
        which = bisect_right(places, at) - 1
        meter = meters[which][1]
        length = Fraction(4 * meter.numerator, meter.denominator)
        if which + 1 < len(meters):
            length = min(length, places[which + 1] - at)
        bars.append(FileBar(at, length, meter))
        at += length
    return bars


def beats_of(bars: Sequence[FileBar], tempos: TempoMap) -> tuple[list[Beat], list[int]]:
    """The beats of bars for the quantiser, and for each beat the index of its bar."""
    beats: list[Beat] = []
    homes: list[int] = []
    for index, bar in enumerate(bars):
        kind, size = _beat(bar.meter)
        at = bar.start
        while at < bar.end:
            length = min(size, bar.end - at)
            ms = tempos.ms_between(float(at), float(at + length))
            steady = min(max(ms, _BEAT_MS[0]), _BEAT_MS[1])
            # A bar that is cut short ends in a piece of a beat: its own kind of beat no longer.
            own: BeatKind = kind if length == size else "plain"
            beats.append(Beat(float(at), float(length), own, at == bar.start, steady))
            homes.append(index)
            at += length
    return beats, homes


def _beat(meter: Meter) -> tuple[BeatKind, Fraction]:
    """The kind of beat of a meter and its length in quarters."""
    if meter.denominator < _EIGHTH:
        return "swung", Fraction(1)
    unit = Fraction(4, meter.denominator)
    if meter.numerator % 3 == 0:
        return "compound", 3 * unit
    if meter.denominator == _EIGHTH and meter.numerator % 2 == 0:
        return "swung", Fraction(1)
    return "plain", unit
