"""When every note of a passage sounds, in seconds, and when a metronome would click.

Straight time: an eighth is half a quarter whatever the style. Grace notes do not sound. The metronome clicks the beats
of the meter, in 6/8, 9/8 and 12/8 the dotted quarters (common practice, no source).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from corpus.errors import RangeError
from corpus.model import TICKS_PER_QUARTER, Bar, Transcription

USUAL_TEMPO: Final = 120.0
"""Quarters a minute where nobody said."""


@dataclass(frozen=True, slots=True)
class Sound:
    """A note (by index in the line) that begins ``start`` seconds after the passage and lasts ``length`` seconds.

    ``pitch`` is the sounding MIDI number, None for a dead note.
    """

    note: int
    start: float
    length: float
    pitch: int | None
    is_ghost: bool


@dataclass(frozen=True, slots=True)
class Click:
    """A beat of the metronome, in seconds; the first beat of a bar is told."""

    start: float
    is_first: bool


@dataclass(frozen=True, slots=True)
class BarTime:
    """When a bar begins and ends, in seconds, and what it is called (``5``, ``5~2``)."""

    name: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Schedule:
    """All that sounds in a passage, at ``tempo`` quarters a minute, in order of time."""

    tempo: float
    sounds: tuple[Sound, ...]
    clicks: tuple[Click, ...]
    bars: tuple[BarTime, ...]

    @property
    def length(self) -> float:
        """Seconds to the end of the last bar or note, 0 where there is none."""
        return max([0.0, *(bar.end for bar in self.bars[-1:]), *(sound.start + sound.length for sound in self.sounds)])


def schedule_of(line: Transcription, first_bar: int, last_bar: int, tempo: float | None = None) -> Schedule:
    """The schedule of played bars ``first_bar`` to ``last_bar`` (indexes, both included).

    ``tempo`` counts quarters a minute: the line's unless given. Raises RangeError for bars that do not exist.
    """
    if not 0 <= first_bar <= last_bar < len(line.bars):
        raise RangeError(f"bars {first_bar + 1} to {last_bar + 1} cannot be played: the line has {len(line.bars)}")
    tempo = tempo or line.details.tempo_bpm or USUAL_TEMPO
    bars = line.bars[first_bar : last_bar + 1]
    origin = bars[0].onset_ticks

    def seconds(ticks: int) -> float:
        return ticks / TICKS_PER_QUARTER * 60 / tempo

    return Schedule(
        tempo,
        tuple(
            Sound(index, seconds(note.onset_ticks - origin), seconds(note.duration_ticks), note.pitch, note.is_ghost)
            for index, note in enumerate(line.notes)
            if first_bar <= note.bar_index <= last_bar
        ),
        tuple(Click(seconds(tick - origin), is_first) for bar in bars for tick, is_first in clicks_of(bar)),
        tuple(
            BarTime(bar_name(bar), seconds(begin), seconds(begin + bar.length_ticks))
            for bar in bars
            for begin in (bar.onset_ticks - origin,)
        ),
    )


def bar_name(bar: Bar) -> str:
    """The written number, with the pass where it is not the first."""
    return f"{bar.number}~{bar.pass_number}" if bar.pass_number > 1 else str(bar.number)


def clicks_of(bar: Bar) -> Iterator[tuple[int, bool]]:
    """The ticks at which the metronome clicks in a bar, and whether on its first beat; a pickup begins inside one."""
    is_compound = bar.meter.denominator >= 8 and bar.meter.numerator % 3 == 0 and bar.meter.numerator > 3
    step = bar.meter.beat_ticks * (3 if is_compound else 1)
    begin = bar.onset_ticks - bar.padding_ticks
    for tick in range(begin, bar.onset_ticks + bar.length_ticks, step):
        if tick >= bar.onset_ticks:
            yield tick, tick == begin
