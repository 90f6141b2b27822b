"""The Humdrum reader beside music21: its kern files, and its Roman numerals for **harm tokens."""

import importlib.util
import random
import warnings
from pathlib import Path
from typing import Any

import pytest

from corpus.harmony.symbols import parse_symbol
from corpus.model import TICKS_PER_QUARTER
from corpus.pitch import parse_key
from corpus.read.kern import read_kern, split_pieces
from corpus.read.kern_numerals import numeral_chord
from corpus.read.written import ReadingWishes

Events = set[tuple[float, float, int]]


def _kern_files() -> list[Path]:
    spec = importlib.util.find_spec("music21")
    assert spec is not None
    assert spec.origin is not None
    return sorted((Path(spec.origin).parent / "corpus").rglob("*.krn"))


def _sample() -> list[Path]:
    """The small pieces of every collection but the largest, and a seeded choice of that."""
    files = [path for path in _kern_files() if path.stat().st_size < 9_000]
    many = [path for path in files if path.parent.name == "palestrina"]
    return [path for path in files if path not in many] + random.Random(8).sample(many, 12)


def test_there_are_files() -> None:
    """At least the 1,326 files that were known when this was written."""
    assert len(_kern_files()) >= 1_326


def _without_labels(path: Path) -> bytes:
    # music21 plays no expansion lists, so both read the page as it stands.
    return b"\n".join(line for line in path.read_bytes().splitlines() if not line.startswith(b"*>"))


def _ours(path: Path, part: int) -> Events:
    (piece,) = split_pieces(_without_labels(path), path.name)
    found: Events = set()
    onset = 0
    for bar in read_kern(piece, ReadingWishes(part=str(part))).bars:
        for note in bar.notes:
            at = (onset + note.offset_ticks) / TICKS_PER_QUARTER
            found.add((round(at, 3), round(note.duration_ticks / TICKS_PER_QUARTER, 3), note.pitch or 0))
        onset += bar.length_ticks
    return found


def _theirs(path: Path) -> list[Events]:
    from music21 import converter, stream

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = converter.parse(_without_labels(path).decode("latin-1"), format="humdrum", forceSource=True)
    assert isinstance(score, stream.Score)
    return [
        {
            (round(float(note.offset), 3), round(float(note.quarterLength), 3), max(p.midi for p in note.pitches))
            for note in part.flatten().notes
            if not note.duration.isGrace
        }
        for part in score.parts
    ]


@pytest.mark.parametrize("path", _sample(), ids=lambda path: path.stem)
def test_notes_are_those_of_music21(path: Path) -> None:
    """Every note of every spine at the same place with the same length and pitch; of a split spine one voice."""
    theirs = _theirs(path)
    is_split = b"*^" in path.read_bytes()
    for part in range(1, len(theirs) + 1):
        ours = _ours(path, part)
        assert ours
        assert any(ours <= events if is_split else ours == events for events in theirs)


TRIADS = ("I", "Ib", "Ic", "ii", "iib", "iii", "IV", "V", "Vc", "vi", "viio", "viiob")
SEVENTHS = ("V7", "V7b", "V7d", "ii7", "viioD7", "IVM7", "IM7", "V7/V", "V/ii", "V7/IV", "viioD7/V")
MINOR = ("i", "ib", "iio", "III", "iv", "V7", "VI", "viioD7", "V7/iv", "VII", "N", "Gnb", "Gnc", "Frb", "Frc")


@pytest.mark.parametrize(
    ("token", "key"),
    [(t, k) for k in ("C", "Eb", "F#") for t in TRIADS + SEVENTHS] + [(t, k) for k in ("Cm", "F#m") for t in MINOR],
)
def test_numerals_sound_as_those_of_music21(token: str, key: str) -> None:
    """The chord symbol's pitch classes and bass are those of music21's numeral for the same token.

    Left out: a seventh without a quality on a diminished triad, which music21 hands on as fully diminished, where
    ``**harm`` means the seventh of the key.
    """
    from music21 import key as keys
    from music21 import roman
    from music21.humdrum import harmParser

    convert: Any = harmParser.convertHarmToRoman
    wanted = parse_key(key)
    tonic = wanted.tonic.replace("b", "-")
    figure = convert(token).replace("N", "bII")
    theirs = roman.RomanNumeral(figure, keys.Key(tonic, wanted.mode))
    symbol = parse_symbol(numeral_chord(token, wanted) or "")
    assert symbol.pitch_classes == {pitch.pitchClass for pitch in theirs.pitches}
    assert symbol.bass_pitch_class == theirs.bass().pitchClass
