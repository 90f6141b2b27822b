"""What instruments can sound, as MIDI numbers: the usual range of a good player.

Source: common practice, recalled from memory of orchestration handbooks; the lowest note is the instrument's own, the
highest the one to which lines are usually written. A user's own range overrides it.
"""

from typing import Final, NamedTuple

from corpus.errors import QueryError
from corpus.pitch import parse_spelling


class Range(NamedTuple):
    """Lowest and highest sounding note, both included, and whose they are."""

    low: int
    high: int
    name: str


_RANGES: Final = (
    (("double bass", "upright bass", "contrabass", "acoustic bass", "string bass"), "E1", "D4"),
    (("bass guitar", "electric bass"), "E1", "Eb4"),
    (("bass clarinet",), "D2", "F5"),
    (("bass trombone",), "Bb1", "Bb4"),
    (("bassoon",), "Bb1", "C5"),
    (("soprano sax",), "Ab3", "E6"),
    (("alto sax",), "Db3", "Ab5"),
    (("tenor sax",), "Ab2", "E5"),
    (("baritone sax",), "C2", "A4"),
    (("trumpet", "cornet", "flugelhorn"), "E3", "Bb5"),
    (("trombone",), "E2", "Bb4"),
    (("tuba",), "D1", "F4"),
    (("clarinet",), "D3", "Bb6"),
    (("flute",), "C4", "C7"),
    (("vibraphone", "vibes"), "F3", "F6"),
    (("guitar",), "E2", "E5"),
    (("violin",), "G3", "A7"),
    (("viola",), "C3", "E6"),
    (("cello",), "C2", "A5"),
    (("piano", "keyboard"), "A0", "C8"),
    (("bass",), "E1", "D4"),
)


def range_of(instrument: str, typed: str = "") -> Range:
    """The range of an instrument by its name, or the one typed (``E1-G3``).

    Raises QueryError for an instrument that is not known and a range that is none.
    """
    name = " ".join(instrument.casefold().replace("-", " ").replace("saxophone", "sax").split())
    if typed:
        return _typed(typed, instrument)
    for names, low, high in _RANGES:
        if any(word in name for word in names):
            return Range(_pitch(low), _pitch(high), instrument)
    raise QueryError(f"the range of {instrument[:40]!r} is not known: say it, as in --range E1-G3 (sounding)")


def _typed(text: str, name: str) -> Range:
    low, sign, high = text.replace("–", "-").strip().rpartition("-")
    try:
        pitches = parse_spelling(low).pitch, parse_spelling(high).pitch
    except QueryError as error:
        raise QueryError(f"--range {text[:40]!r} is none: write two notes, as in E1-G3") from error
    if not sign or pitches[0] is None or pitches[1] is None or not 0 <= pitches[0] < pitches[1] <= 127:
        raise QueryError(f"--range {text[:40]!r} is none: write the lower note first, octaves too, as in E1-G3")
    return Range(pitches[0], pitches[1], name)


def _pitch(name: str) -> int:
    pitch = parse_spelling(name).pitch
    assert pitch is not None
    return pitch
