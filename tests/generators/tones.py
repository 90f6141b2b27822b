"""Notes on their way into a line: pitch, letter and time, before they have bars."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

from corpus.model import Note
from corpus.pitch import LETTER_SEMITONES, SpelledPitch, default_spelling, parse_spelling

LOWEST: Final = 28
HIGHEST: Final = 67
"""The notes that lines may use: the open low string of a double bass (E1) to G4."""


class ImpossibleError(ValueError):
    """What was asked for cannot be done to these notes."""


class Tone(NamedTuple):
    """A note: sounding MIDI number, staff position (letter names above C0), ticks from where it is counted."""

    pitch: int
    position: int
    onset_ticks: int
    duration_ticks: int

    @property
    def end_ticks(self) -> int:
        """Where it stops."""
        return self.onset_ticks + self.duration_ticks

    @property
    def alteration(self) -> int:
        """Semitones above the natural note on its letter."""
        octave, letter = divmod(self.position, 7)
        return self.pitch - 12 * (octave + 1) - LETTER_SEMITONES[letter]

    @property
    def spelling(self) -> str:
        """Its name; at most two accidentals can be written."""
        octave, letter = divmod(self.position, 7)
        return str(SpelledPitch(letter, self.alteration, octave))

    def moved(self, semitones: int, letters: int) -> "Tone":
        """The note so much higher."""
        return self._replace(pitch=self.pitch + semitones, position=self.position + letters)


Tones = tuple[Tone, ...]


def usual(pitch: int, onset_ticks: int, duration_ticks: int) -> Tone:
    """A tone spelled in the usual way."""
    return Tone(pitch, parse_spelling(default_spelling(pitch)).staff_position, onset_ticks, duration_ticks)


def later(tones: Iterable[Tone], ticks: int) -> Tones:
    """Tones so many ticks later."""
    return tuple(tone._replace(onset_ticks=tone.onset_ticks + ticks) for tone in tones)


def intervals(tones: Sequence[Tone]) -> tuple[int, ...]:
    """Semitones between neighbours."""
    return tuple(after.pitch - before.pitch for before, after in pairwise(tones))


def respelled(tones: Sequence[Tone]) -> Tones:
    """The tones on the letters, all moved alike, that need the fewest accidentals.

    Raises ImpossibleError where some note would need more than two.
    """
    ways = [tuple(tone.moved(0, letters) for tone in tones) for letters in (0, 1, -1)]
    best = min(ways, key=lambda way: max(abs(tone.alteration) for tone in way))
    if any(abs(tone.alteration) > 2 for tone in best):
        raise ImpossibleError(f"{tones} cannot be spelled")
    return best


def is_playable(tones: Sequence[Tone]) -> bool:
    """Whether tones lie within the range and can be written, and none repeats the one before."""
    return all(LOWEST <= tone.pitch <= HIGHEST and abs(tone.alteration) <= 2 for tone in tones) and 0 not in intervals(
        tones
    )


def notes_of(tones: Sequence[Tone], bar_ticks: int) -> tuple[Note, ...]:
    """The notes of a line in bars of one length."""
    return tuple(
        Note(tone.onset_ticks, tone.duration_ticks, tone.pitch, tone.spelling, tone.onset_ticks // bar_ticks)
        for tone in tones
    )
