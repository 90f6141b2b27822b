"""The music as wellworn keeps it: notes, bars, chords and sections of one transcribed line.

Conventions, used everywhere:

- Time is integer ticks, ``TICKS_PER_QUARTER`` to a quarter note: exact for triplets, quintuplets and septuplets.
- Onsets count from the start of the line *as played*, with repeats and endings written out.
- Pitch is the sounding MIDI number, with the sounding spelling kept beside it.
- Bars keep the number they bear on the page (1 is the first full bar, 0 a pickup) and the pass through them.
- Beats count from 1 in the note value of the meter's lower number.

A ``Transcription`` is complete and immutable when reading ends.
"""

from bisect import bisect_right
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import Final, NamedTuple

from corpus.pitch import Key

TICKS_PER_QUARTER: Final = 10_080


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter such as 4/4; ``numerator`` beats of the note value ``1/denominator``."""

    numerator: int
    denominator: int

    @property
    def beat_ticks(self) -> int:
        """Ticks of one beat: the note value of the lower number."""
        return 4 * TICKS_PER_QUARTER // self.denominator

    @property
    def bar_ticks(self) -> int:
        """Ticks of a full bar."""
        return self.numerator * self.beat_ticks

    def __str__(self) -> str:
        return f"{self.numerator}/{self.denominator}"


@dataclass(frozen=True, slots=True)
class Ornament:
    """A grace note: sounding pitch and spelling, outside the readings."""

    pitch: int
    spelling: str


class Note(NamedTuple):
    """One sounding note of the line, ties merged.

    ``pitch`` is None and ``spelling`` empty for a dead note (rhythm without pitch). ``bar_index`` counts played bars
    from 0. ``ornaments`` are the grace notes before it. A named tuple, since lines are unpacked by the thousand.
    """

    onset_ticks: int
    duration_ticks: int
    pitch: int | None
    spelling: str
    bar_index: int
    is_ghost: bool = False
    ornaments: tuple[Ornament, ...] = ()

    @property
    def is_dead(self) -> bool:
        """Whether the note has rhythm but no pitch (an x head)."""
        return self.pitch is None

    @property
    def end_ticks(self) -> int:
        """The tick at which the note stops."""
        return self.onset_ticks + self.duration_ticks


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar as played.

    ``number`` is the written number, ``pass_number`` counts how often the written bar has been played (from 1).
    ``padding_ticks`` is the silence that a pickup lacks at its start, so that its beats count to the bar line.
    ``chorus`` counts from 1; ``key`` and ``section`` are those in force at the start of the bar.
    """

    number: int
    pass_number: int
    onset_ticks: int
    length_ticks: int
    padding_ticks: int
    meter: Meter
    chorus: int = 1
    key: Key | None = None

    def beat_at(self, onset_ticks: int) -> Fraction:
        """The beat of an onset inside this bar, counted from 1."""
        return 1 + Fraction(onset_ticks - self.onset_ticks + self.padding_ticks, self.meter.beat_ticks)


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord symbol as written, from its place to the next symbol (or the end), in ticks of the played line."""

    symbol: str
    onset_ticks: int
    end_ticks: int


@dataclass(frozen=True, slots=True)
class Section:
    """A section of the form (``A``, ``Bridge``), from its mark to the next mark, in ticks of the played line."""

    label: str
    onset_ticks: int
    end_ticks: int


@dataclass(frozen=True, slots=True)
class FormPart:
    """One section of a form and its length in bars."""

    label: str
    bars: int


@dataclass(frozen=True, slots=True)
class Form:
    """The form of one chorus: its sections in order. ``A8 A8 B8 A8`` has 32 bars."""

    parts: tuple[FormPart, ...]

    @property
    def bars(self) -> int:
        """Bars in one chorus."""
        return sum(part.bars for part in self.parts)

    def __str__(self) -> str:
        return " ".join(f"{part.label}{part.bars}" for part in self.parts)


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a careful reader would point at: a check's or a reader's remark, with its place.

    ``kind`` is one of the names in ``corpus.check.KINDS`` or ``reading`` for what a reader left out or guessed;
    ``bar`` is the written bar number and ``beat`` the beat, where the remark has a place.
    """

    kind: str
    text: str
    bar: int | None = None
    beat: Fraction | None = None
    pass_number: int = 1

    @property
    def place(self) -> str:
        """``bar 3 beat 2``, or an empty string for a remark about the whole line."""
        if self.bar is None:
            return ""
        again = f" (time {self.pass_number})" if self.pass_number > 1 else ""
        beat = "" if self.beat is None else f" beat {float(self.beat):g}"
        return f"bar {self.bar}{again}{beat}"


@dataclass(frozen=True, slots=True)
class Details:
    """What is known about a transcription besides its notes. Empty or None where nobody said.

    ``tempo_bpm`` counts quarter notes a minute.
    """

    title: str = ""
    player: str = ""
    instrument: str = ""
    recording: str = ""
    year: int | None = None
    tempo_bpm: float | None = None
    key: Key | None = None
    meter: Meter | None = None
    form: Form | None = None


@dataclass(frozen=True)
class Transcription:
    """One line, complete: details, played notes and bars, chord symbols, sections, and the readers' remarks."""

    details: Details
    notes: tuple[Note, ...]
    bars: tuple[Bar, ...]
    chords: tuple[ChordSpan, ...] = ()
    sections: tuple[Section, ...] = ()
    findings: tuple[Finding, ...] = field(default=())

    @cached_property
    def _chord_onsets(self) -> list[int]:
        return [chord.onset_ticks for chord in self.chords]

    @cached_property
    def _section_onsets(self) -> list[int]:
        return [section.onset_ticks for section in self.sections]

    @property
    def end_ticks(self) -> int:
        """The tick at which the last bar ends."""
        return self.bars[-1].onset_ticks + self.bars[-1].length_ticks if self.bars else 0

    def bar_of(self, note_index: int) -> Bar:
        """The played bar in which a note starts."""
        return self.bars[self.notes[note_index].bar_index]

    def beat_of(self, note_index: int) -> Fraction:
        """The beat on which a note starts, counted from 1."""
        return self.bar_of(note_index).beat_at(self.notes[note_index].onset_ticks)

    def chord_at(self, onset_ticks: int) -> ChordSpan | None:
        """The chord in force at a tick, or None."""
        index = bisect_right(self._chord_onsets, onset_ticks) - 1
        if index < 0 or onset_ticks >= self.chords[index].end_ticks:
            return None
        return self.chords[index]

    def chords_between(self, start_ticks: int, end_ticks: int) -> tuple[ChordSpan, ...]:
        """The chords that sound somewhere in a stretch of time, in order."""
        first = max(bisect_right(self._chord_onsets, start_ticks) - 1, 0)
        last = bisect_right(self._chord_onsets, end_ticks - 1)
        return tuple(chord for chord in self.chords[first:last] if chord.end_ticks > start_ticks)

    def section_at(self, onset_ticks: int) -> Section | None:
        """The section in force at a tick, or None."""
        index = bisect_right(self._section_onsets, onset_ticks) - 1
        if index < 0 or onset_ticks >= self.sections[index].end_ticks:
            return None
        return self.sections[index]
