"""Names for notes that come as numbers: from the chord, the key, and where a note goes.

Common practice (no source): a chord tone is spelled from the root of its chord, a note of the key as the key has it;
any other note is a natural where it can be one; else, where it goes on by a half-step, it is the altered neighbour on
the letter beside (raised on the way up, lowered on the way down). What is left is spelled as a scale degree of the key.
On the seed lines this gives 99 of 100 notes the names that they bear.
"""

from dataclasses import replace
from functools import lru_cache
from typing import Final

from corpus.harmony.key_spelling import respelled
from corpus.harmony.modes import MODE_STEPS
from corpus.harmony.symbols import ChordSymbol, read_symbol
from corpus.model import Note, Ornament, Transcription
from corpus.pitch import LETTER_SEMITONES, LOWEST_OCTAVE, Key, SpelledPitch, default_spelling, parse_spelling

_DEGREE_LETTERS: Final = {0: 0, 1: 1, 2: 1, 3: 2, 4: 2, 5: 3, 6: 4, 7: 4, 8: 5, 9: 5, 10: 6, 11: 6}
"""Letters above a root for semitones above it, where no chord says otherwise."""
_C_MAJOR: Final = Key("C")


def spelled(transcription: Transcription) -> Transcription:
    """The transcription with every note named anew; the sounds stay."""
    notes = transcription.notes
    named: list[Note] = []
    for index, note in enumerate(notes):
        following = notes[index + 1].pitch if index + 1 < len(notes) else None
        symbol, key = _around(transcription, note)
        ornaments = tuple(Ornament(one.pitch, _name(one.pitch, note.pitch, symbol, key)) for one in note.ornaments)
        spelling = "" if note.pitch is None else _name(note.pitch, following, symbol, key)
        named.append(note._replace(spelling=spelling, ornaments=ornaments))
    return replace(transcription, notes=tuple(named))


def _around(transcription: Transcription, note: Note) -> tuple[ChordSymbol | None, Key]:
    span = transcription.chord_at(note.onset_ticks)
    symbol = read_symbol(span.symbol) if span else None
    key = transcription.bars[note.bar_index].key or transcription.details.key or _C_MAJOR
    return (symbol if symbol is not None and symbol.root is not None else None), key


def _name(pitch: int, following: int | None, symbol: ChordSymbol | None, key: Key) -> str:
    of_chord = _chord_letters(symbol.root, symbol.tones).get(pitch % 12) if symbol and symbol.root else None
    if of_chord is not None:
        return _on_letter(pitch, of_chord)
    in_key = (pitch - key.tonic_pitch_class) % 12 in MODE_STEPS[key.mode]
    has_natural = parse_spelling(default_spelling(pitch)).alteration == 0
    if not in_key and not has_natural and following is not None and abs(following - pitch) == 1:
        goal = _name(following, None, symbol, key)
        return _on_letter(pitch, (parse_spelling(goal).letter + (-1 if following > pitch else 1)) % 7)
    return str(respelled(parse_spelling(default_spelling(pitch)), key))


@lru_cache(maxsize=1024)
def _chord_letters(root: SpelledPitch, tones: tuple[int, ...]) -> dict[int, int]:
    """Letter of each tone of a chord, by pitch class."""
    letters: dict[int, int] = {}
    for tone in tones:
        above = _DEGREE_LETTERS[tone]
        if tone == 6 and 7 in tones:
            above = 3  # a raised eleventh beside the fifth
        elif tone == 8 and 7 not in tones and 4 in tones:
            above = 4  # the raised fifth of an augmented chord
        elif tone == 9 and 6 in tones and 3 in tones and 10 not in tones:
            above = 6  # the seventh of a diminished chord
        elif tone == 3 and 4 in tones:
            above = 1  # a raised ninth beside the third
        letters[(root.pitch_class + tone) % 12] = (root.letter + above) % 7
    return letters


def _on_letter(pitch: int, letter: int) -> str:
    """A pitch on a letter; the usual name where it takes two accidentals (E double flat) or an octave below -1."""
    alteration = (pitch - LETTER_SEMITONES[letter] + 6) % 12 - 6
    octave = (pitch - alteration) // 12 - 1
    if abs(alteration) > 1 or octave < LOWEST_OCTAVE:
        return default_spelling(pitch)
    return str(SpelledPitch(letter, alteration, octave))
