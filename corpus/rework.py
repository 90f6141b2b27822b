"""New values from old ones: a transcription in another key or over another form."""

from dataclasses import replace
from typing import Final

from corpus.errors import RangeError
from corpus.form import chorus_numbers, sections_from_form
from corpus.harmony.symbols import read_symbol, transpose_symbol
from corpus.model import Form, Note, Ornament, Transcription
from corpus.pitch import (
    LETTER_SEMITONES,
    Key,
    SpelledPitch,
    default_spelling,
    fifths_of,
    parse_spelling,
)

_STEPS_OF_SEMITONES: Final = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Letter names of the intervals that a line without a key is moved by: diatonic ones, and the augmented fourth."""


def with_key(transcription: Transcription, key: Key | None) -> Transcription:
    """The transcription heard in one key throughout."""
    return replace(
        transcription,
        details=replace(transcription.details, key=key),
        bars=tuple(replace(bar, key=key) for bar in transcription.bars),
    )


def with_form(transcription: Transcription, form: Form | None) -> Transcription:
    """The transcription over a form, which numbers its choruses.

    Sections follow the form unless the file marked its own.
    """
    numbers = chorus_numbers(transcription.bars, form)
    bars = tuple(replace(bar, chorus=chorus) for bar, chorus in zip(transcription.bars, numbers, strict=True))
    before = transcription.details.form
    from_form = () if before is None else sections_from_form(transcription.bars, before)
    sections = transcription.sections
    if sections == from_form:
        sections = () if form is None else sections_from_form(bars, form)
    return replace(transcription, details=replace(transcription.details, form=form), bars=bars, sections=sections)


def transposed_line(transcription: Transcription, semitones: int, steps: int | None = None) -> Transcription:
    """The line moved by an interval: notes, ornaments, chord symbols and keys, spelled for the key it arrives in.

    ``steps`` counts letter names (a minor third up is 3 semitones and 2 steps). Without it the key decides: of the
    possible signatures the one with the fewest signs, and flats where six sharps and six flats say the same. Notes
    keep their letter's distance, so a flat third stays one; only what would need a double accidental is respelled.
    Raises RangeError when a note would lie outside MIDI 0 to 127.
    """
    first = transcription.details.key or next((bar.key for bar in transcription.bars if bar.key is not None), None)
    by = steps if steps is not None else _steps_for(first, semitones)

    def key(old: Key | None) -> Key | None:
        return None if old is None else Key(_moved_name(old.tonic, semitones, by), old.mode)

    def chord(text: str) -> str:
        symbol = read_symbol(text)
        if symbol is None or symbol.root is None or (semitones % 12 == 0 and by % 7 == 0):
            return text
        return transpose_symbol(symbol, semitones, by).canonical

    return replace(
        transcription,
        details=replace(transcription.details, key=key(transcription.details.key)),
        notes=tuple(_moved_note(note, semitones, by) for note in transcription.notes),
        bars=tuple(replace(bar, key=key(bar.key)) for bar in transcription.bars),
        chords=tuple(replace(span, symbol=chord(span.symbol)) for span in transcription.chords),
        findings=(),
    )


def _steps_for(key: Key | None, semitones: int) -> int:
    octaves, rest = divmod(semitones, 12)
    usual = _STEPS_OF_SEMITONES[rest]
    if key is None:
        return 7 * octaves + usual

    def signs(by: int) -> tuple[int, int, int]:
        fifths = fifths_of(key) + 7 * rest - 12 * by
        return abs(fifths), fifths, abs(by - usual)

    return 7 * octaves + min((usual - 1, usual, usual + 1), key=signs)


def _moved_name(name: str, semitones: int, steps: int) -> str:
    spelled = parse_spelling(name)
    letter = (spelled.letter + steps) % 7
    alteration = (spelled.pitch_class + semitones - LETTER_SEMITONES[letter] + 6) % 12 - 6
    return str(SpelledPitch(letter, alteration, None))


def _moved_note(note: Note, semitones: int, steps: int) -> Note:
    if note.pitch is None and not note.ornaments:
        return note
    ornaments = tuple(
        Ornament(o.pitch + semitones, _moved_spelling(o.pitch, o.spelling, semitones, steps)) for o in note.ornaments
    )
    if note.pitch is None:
        return note._replace(ornaments=ornaments)
    spelling = _moved_spelling(note.pitch, note.spelling, semitones, steps)
    return note._replace(pitch=note.pitch + semitones, spelling=spelling, ornaments=ornaments)


def _moved_spelling(pitch: int, spelling: str, semitones: int, steps: int) -> str:
    target = pitch + semitones
    if not 0 <= target <= 127:
        raise RangeError(f"{spelling} moved by {semitones} semitones lies outside what can be played")
    spelled = parse_spelling(spelling)
    octave, letter = divmod(7 * (spelled.octave or 0) + spelled.letter + steps, 7)
    alteration = target - 12 * (octave + 1) - LETTER_SEMITONES[letter]
    if abs(alteration) > 1:
        # The natural that sounds the same, or the black key on the side that the double accidental leans to.
        for other in (letter + (1 if alteration > 0 else -1), letter):
            new_octave, new_letter = divmod(7 * octave + other, 7)
            new = target - 12 * (new_octave + 1) - LETTER_SEMITONES[new_letter]
            if abs(new) <= 1:
                return str(SpelledPitch(new_letter, new, new_octave))
        return default_spelling(target)
    return str(SpelledPitch(letter, alteration, octave))
