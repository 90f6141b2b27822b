"""Walking lines over progressions that belong to nobody: ii–V–I chains, a twelve-bar blues, I–VI–ii–V in AABA.

One note a beat, as bass method books teach it (common practice): a chord tone on the beat where a chord begins, most
often the root; on the beat before, a note that leads there by half-step, by step or from the fifth; between them chord
and scale tones; now and then two eighths or a repeated note. Which of these it is, and in which octave, is left to
chance as far as that allows, so that a line holds few figures of its own.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

from corpus.form import chorus_numbers, parse_form, sections_from_form
from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Details, Meter, Transcription
from corpus.pitch import LETTER_SEMITONES, LETTERS, Key
from tests.generators.tones import HIGHEST, LOWEST, Tone, Tones, notes_of

FOUR_FOUR: Final = Meter(4, 4)
BEATS: Final = 4
KEYS: Final = ("C", "F", "Bb", "Eb", "Ab", "G")


@dataclass(frozen=True, slots=True)
class Progression:
    """A form and, bar by bar, chords as degree and kind (``2:m7``, ``b7:7``)."""

    name: str
    form: str
    bars: str


_A_OF_AABA = "1:6 6:7 | 2:m7 5:7 | 3:m7 6:7 | 2:m7 5:7 | 5:m7 1:7 | 4:6 4:m6 | 1:6 6:7 | 2:m7 5:7"
PROGRESSIONS: Final = (
    Progression(
        "chain",
        "A8 B8",
        "2:m7 | 5:7 | 1:maj7 | 1:6 | 5:m7 | 1:7 | 4:maj7 | 4:6 |"
        "4:m7 | b7:7 | b3:maj7 | b3:6 | 2:m7b5 | 5:7 | 1:maj7 | 3:m7 6:7",
    ),
    Progression(
        "blues",
        "Blues12",
        "1:7 | 4:7 | 1:7 | 5:m7 1:7 | 4:7 | 4:m7 b7:7 | 1:7 | 6:7 | 2:m7 | 5:7 | 1:7 6:7 | 2:m7 5:7",
    ),
    Progression(
        "aaba",
        "A8 A8 B8 A8",
        f"{_A_OF_AABA} | {_A_OF_AABA} | 3:7 | 3:7 | 6:7 | 6:7 | 2:7 | 2:7 | 5:7 | 5:7 | {_A_OF_AABA}",
    ),
)

_MAJOR = ((0, 0), (2, 1), (4, 2), (5, 3), (7, 4), (9, 5), (11, 6))
_MIXOLYDIAN = (*_MAJOR[:6], (10, 6))
_DORIAN = ((0, 0), (2, 1), (3, 2), (5, 3), (7, 4), (9, 5), (10, 6))
_LOCRIAN = ((0, 0), (1, 1), (3, 2), (5, 3), (6, 4), (8, 5), (10, 6))
_DIMINISHED = ((0, 0), (2, 1), (3, 2), (5, 3), (6, 4), (8, 5), (9, 6))
SCALES: Final = {
    "maj7": _MAJOR,
    "6": _MAJOR,
    "m6": _DORIAN,
    "m7": _DORIAN,
    "7": _MIXOLYDIAN,
    "m7b5": _LOCRIAN,
    "dim7": _DIMINISHED,
}
"""Semitones and letters above the root."""
_SIXTHS = ("6", "m6")

_COMFORTABLE = 50
_HIGHEST_WALKED = 60
"""Walking stays in the lower part of the range (D3, C4); figures and their displaced notes may go beyond."""


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord: its root as semitones above C and as an index of letters, and its kind."""

    pitch_class: int
    letter: int
    kind: str

    @property
    def symbol(self) -> str:
        """As it is written: ``Bbmaj7``."""
        return f"{_named(self.pitch_class, self.letter)}{self.kind}"

    def tone(self, semitones: int, letters: int) -> Tone:
        """A note above the root, in the octave of C4."""
        return Tone(60 + self.pitch_class + semitones, 28 + self.letter + letters + self._turns, 0, 0)

    @property
    def _turns(self) -> int:
        """Letters that an octave crossed by an accidental (Cb, B#) takes away or adds."""
        natural = LETTER_SEMITONES[self.letter]
        return 7 * round((self.pitch_class - natural) / 12)

    def scale(self) -> tuple[Tone, ...]:
        """The scale on the root."""
        return tuple(self.tone(*degree) for degree in SCALES[self.kind])

    def chord_tones(self) -> tuple[Tone, ...]:
        """Root, third, fifth, and sixth or seventh."""
        scale = self.scale()
        return (scale[0], scale[2], scale[4], scale[5 if self.kind in _SIXTHS else 6])


def _named(pitch_class: int, letter: int) -> str:
    alteration = (pitch_class - LETTER_SEMITONES[letter] + 6) % 12 - 6
    return LETTERS[letter] + ("#" * alteration if alteration > 0 else "b" * -alteration)


@cache
def chords_in(progression: Progression, tonic: str) -> tuple[tuple[Chord, ...], ...]:
    """The chords of each bar of one chorus in a key."""
    key = Key(tonic)
    bars = []
    for bar in progression.bars.split("|"):
        chords = []
        for word in bar.split():
            degree, kind = word.split(":")
            number = int(degree[-1]) - 1
            semitones = LETTER_SEMITONES[number] - degree.count("b") + degree.count("#")
            chords.append(
                Chord((key.tonic_pitch_class + semitones) % 12, (key.tonic_spelling.letter + number) % 7, kind)
            )
        bars.append(tuple(chords))
    return tuple(bars)


def beats_of(bars: Sequence[Sequence[Chord]]) -> list[tuple[Chord, bool]]:
    """The chord of each beat, and whether it begins there."""
    return [(bar[beat * len(bar) // BEATS], beat * len(bar) % BEATS == 0) for bar in bars for beat in range(BEATS)]


def in_octaves(tone: Tone, lowest: int = LOWEST, highest: int = HIGHEST) -> list[Tone]:
    """A tone in all octaves of a range."""
    return [
        tone.moved(12 * octaves, 7 * octaves)
        for octaves in range(-6, 5)
        if lowest <= tone.pitch + 12 * octaves <= highest
    ]


class Walker:
    """A walk over the beats of a line, filled in stretch by stretch."""

    def __init__(self, beats: Sequence[tuple[Chord, bool]], source: random.Random) -> None:
        self._beats, self._source = beats, source

    def walk(self, begin: int, end: int, before: Tone | None, after: Tone | None) -> Tones:
        """Notes for the beats from ``begin`` to before ``end``, between the notes that stand beside them."""
        tones: list[Tone] = []
        last = before
        target: Tone | None = None
        for beat in range(begin, end):
            chord, is_first = self._beats[beat]
            if target is not None:
                tone = target
            elif is_first:
                tone = self._landing(chord, last)
            else:
                tone = self._between(chord, last)
            target = None
            following = beat + 1
            if not is_first and self._source.random() < 0.85:
                if following < end and self._beats[following][1]:
                    target = self._landing(self._beats[following][0], last)
                leads_to = target if following < end else after
                if leads_to is not None:
                    tone = self._approach(leads_to, last)
            tones.extend(self._played(chord, tone, beat))
            last = tones[-1]
        return tuple(tones)

    def _landing(self, chord: Chord, last: Tone | None) -> Tone:
        tone = self._source.choices(chord.chord_tones(), (6, 3, 2, 2))[0]
        return self._near(in_octaves(tone, highest=_HIGHEST_WALKED), last)

    def _between(self, chord: Chord, last: Tone | None) -> Tone:
        tones = chord.chord_tones() if self._source.random() < 0.5 else chord.scale()
        return self._near([tone for each in tones for tone in in_octaves(each, highest=_HIGHEST_WALKED)], last)

    def _approach(self, target: Tone, last: Tone | None) -> Tone:
        ways = [target.moved(*by) for by in ((-1, -1), (1, 1), (-2, -1), (2, 1), (7, 4), (-5, -3))]
        possible = [way for way in ways if LOWEST <= way.pitch <= HIGHEST and abs(way.alteration) <= 2]
        return self._near(possible, last)

    def _near(self, tones: Sequence[Tone], last: Tone | None) -> Tone:
        """One of some notes, the nearer the likelier; a repeated note is rare."""
        if last is None:
            return self._source.choice([tone for tone in tones if tone.pitch < 52] or list(tones))
        away = [abs(tone.pitch - last.pitch) for tone in tones]
        weights = [0.25 if size == 0 else 1.0 if size <= 5 else 0.5 if size <= 9 else 0.03 for size in away]
        low = [
            weight if tone.pitch <= _COMFORTABLE else weight / 2 for weight, tone in zip(weights, tones, strict=True)
        ]
        return self._source.choices(tones, low)[0]

    def _played(self, chord: Chord, tone: Tone, beat: int) -> list[Tone]:
        """A quarter note, seldom two eighths."""
        onset = beat * TICKS_PER_QUARTER
        if self._source.random() >= 0.05:
            return [tone._replace(onset_ticks=onset, duration_ticks=TICKS_PER_QUARTER)]
        half = TICKS_PER_QUARTER // 2
        skip = tone.moved(-12, -7) if tone.pitch - 12 >= LOWEST else tone.moved(12, 7)
        second = self._source.choice([tone, self._between(chord, tone), skip])
        return [
            tone._replace(onset_ticks=onset, duration_ticks=half),
            second._replace(onset_ticks=onset + half, duration_ticks=half),
        ]


def line_over(
    progression: Progression, tonic: str, choruses: int, tones: Sequence[Tone], title: str, player: str
) -> Transcription:
    """A transcription of tones over so many choruses of a progression in a key."""
    chords = chords_in(progression, tonic) * choruses
    form, key, bar_ticks = parse_form(progression.form), Key(tonic), FOUR_FOUR.bar_ticks
    plain = tuple(Bar(i + 1, 1, i * bar_ticks, bar_ticks, 0, FOUR_FOUR, 1, key) for i in range(len(chords)))
    bars = tuple(
        Bar(bar.number, 1, bar.onset_ticks, bar_ticks, 0, FOUR_FOUR, chorus, key)
        for bar, chorus in zip(plain, chorus_numbers(plain, form), strict=True)
    )
    spans = [
        ChordSpan(
            chord.symbol, i * bar_ticks + j * bar_ticks // len(bar), i * bar_ticks + (j + 1) * bar_ticks // len(bar)
        )
        for i, bar in enumerate(chords)
        for j, chord in enumerate(bar)
    ]
    return Transcription(
        details=Details(title=title, player=player, instrument="Double bass", key=key, meter=FOUR_FOUR, form=form),
        notes=notes_of(tones, bar_ticks),
        bars=bars,
        chords=tuple(spans),
        sections=sections_from_form(bars, form),
    )
