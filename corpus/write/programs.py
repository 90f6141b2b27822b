"""The General MIDI program of an instrument by its name.

Source: General MIDI System Level 1, sound set (MIDI Manufacturers Association, 1991), numbers from memory; they count
from 0 here, as they stand in a program change.
"""

import statistics
from typing import Final

from corpus.model import Transcription

_PROGRAMS: Final = (
    (("double bass", "upright bass", "contrabass", "acoustic bass", "string bass"), 32),
    (("fretless",), 35),
    (("bass clarinet",), 71),
    (("bass trombone",), 57),
    (("bassoon",), 70),
    (("baritone sax", "bass sax"), 67),
    (("bass guitar", "electric bass"), 33),
    (("tenor sax",), 66),
    (("alto sax",), 65),
    (("soprano sax",), 64),
    (("sax",), 66),
    (("trumpet", "cornet", "flugelhorn"), 56),
    (("trombone",), 57),
    (("tuba", "euphonium"), 58),
    (("clarinet",), 71),
    (("flute",), 73),
    (("vibraphone", "vibes"), 11),
    (("guitar",), 26),
    (("violin", "fiddle"), 40),
    (("viola",), 41),
    (("cello",), 42),
    (("organ",), 16),
    (("accordion",), 21),
    (("harmonica",), 22),
    (("voice", "vocal"), 52),
    (("bass",), 32),
)
PIANO: Final = 0
ACOUSTIC_BASS: Final = 32
_BASS_MEDIAN: Final = 50
"""A line without an instrument whose middle note lies below D3 is taken for a bass line."""


def program_of(transcription: Transcription) -> int:
    """The program of the line's instrument, 0 to 127: by its name, else acoustic bass or piano by the line's range."""
    name = " ".join(transcription.details.instrument.casefold().replace("-", " ").split())
    for words, program in _PROGRAMS:
        if any(word in name for word in words):
            return program
    pitches = [note.pitch for note in transcription.notes if note.pitch is not None]
    return ACOUSTIC_BASS if not name and pitches and statistics.median(pitches) < _BASS_MEDIAN else PIANO


def instrument_of_program(program: int) -> str:
    """The instrument of a program, by the names above; empty for one that none of them has."""
    return next((words[0].capitalize() for words, number in _PROGRAMS if number == program), "")
