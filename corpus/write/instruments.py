"""How instruments are written: clef, and how far the page stands from what sounds.

Source: the transpositions are those of common orchestration handbooks (recalled from memory), spelled as MusicXML's
``<transpose>`` wants them: from written to sounding.
"""

import statistics
from dataclasses import dataclass
from typing import Final, Literal

from corpus.model import Transcription

Clef = Literal["bass", "treble"]


@dataclass(frozen=True, slots=True)
class Writing:
    """A clef, and letter names, semitones and octaves from the written to the sounding note."""

    clef: Clef
    steps: int = 0
    semitones: int = 0
    octaves: int = 0


_KNOWN: Final = (
    (("double bass", "upright bass", "contrabass", "acoustic bass", "string bass"), Writing("bass", octaves=-1)),
    (("bass guitar", "electric bass"), Writing("bass", octaves=-1)),
    (("tenor sax",), Writing("treble", -1, -2, -1)),
    (("soprano sax", "clarinet", "trumpet", "cornet", "flugelhorn"), Writing("treble", -1, -2)),
    (("baritone sax",), Writing("treble", -5, -9, -1)),
    (("alto sax",), Writing("treble", -5, -9)),
    (("guitar",), Writing("treble", octaves=-1)),
    (("trombone", "tuba", "cello", "euphonium"), Writing("bass")),
    (("bass",), Writing("bass", octaves=-1)),
)
_AT_PITCH: Final = ("bass trombone", "bassoon")
_TREBLE_BASS: Final = Writing("treble", -1, -2, -1)
_MIDDLE_C: Final = 60


def writing_of(transcription: Transcription, *, concert: bool = False) -> Writing:
    """How the line is written: by its instrument, else by its range at sounding pitch.

    With ``concert`` a transposing instrument is written at sounding pitch; octaves stay as its players read them.
    """
    name = transcription.details.instrument.casefold().replace("-", " ").replace("saxophone", "sax")
    if any(word in name for word in _AT_PITCH):
        found = Writing("bass")
    elif "bass clarinet" in name:
        found = _TREBLE_BASS
    else:
        found = next((writing for names, writing in _KNOWN if any(n in name for n in names)), _by_range(transcription))
    return Writing(found.clef, 0, 0, found.octaves) if concert else found


def _by_range(transcription: Transcription) -> Writing:
    pitches = [note.pitch for note in transcription.notes if note.pitch is not None]
    return Writing("bass" if pitches and statistics.median(pitches) < _MIDDLE_C else "treble")
