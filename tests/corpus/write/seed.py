"""The seed lines as transcriptions, and a way to read MusicXML text back."""

from functools import lru_cache
from pathlib import Path

from corpus.model import Transcription
from corpus.read.formats import SUFFIXES, pieces_of, read_piece
from corpus.read.written import ReadingWishes

SEED = Path(__file__).parents[3] / "seed_data"


@lru_cache
def seed_lines() -> tuple[Transcription, ...]:
    """Every line of the seed, in the order of file names."""
    files = sorted(path for path in SEED.iterdir() if path.suffix in SUFFIXES)
    return tuple(
        read_piece(piece, ReadingWishes()) for path in files for piece in pieces_of(path.read_bytes(), path.name)
    )


def abc_line(
    body: str, *, key: str = "C", meter: str = "4/4", unit: str = "1/8", instrument: str = "Piano"
) -> Transcription:
    """A line from the body of an ABC tune, at sounding pitch."""
    head = f"X:1\nT:Test\n%%wellworn-instrument {instrument}\nM:{meter}\nL:{unit}\nK:{key}\n"
    (piece,) = pieces_of(f"%abc-2.1\n\n{head}{body}\n".encode(), "test.abc")
    return read_piece(piece, ReadingWishes())


def read_back(text: str) -> Transcription:
    """The transcription that MusicXML text is read as."""
    (piece,) = pieces_of(text.encode(), "back.musicxml")
    return read_piece(piece, ReadingWishes())
