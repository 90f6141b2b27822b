"""Every test file that music21 and partitura ship for ABC, MusicXML and Humdrum, read where they are installed.

Each part of each piece reads or is refused with its reason; what is expected in particular was worked out by hand from
the files. verovio's package holds no music.
"""

import importlib.util
import re
from pathlib import Path

import pytest

from corpus.errors import ReadingError
from corpus.model import TICKS_PER_QUARTER
from corpus.read.formats import Piece, pieces_of, read_piece
from corpus.read.musicxml import read_musicxml
from corpus.read.repeats import play_order
from corpus.read.written import ReadingWishes

_MODULES = {
    ".abc": ("music21.abcFormat.testFiles",),
    ".krn": ("music21.humdrum.testFiles",),
    ".xml": ("music21.musicxml.testFiles", "music21.musicxml.testPrimitive"),
}


def _folder(package: str) -> Path:
    spec = importlib.util.find_spec(package)
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent


def _texts() -> dict[str, bytes]:
    """The files by name: the texts that music21's test modules hold, and files in the packages' folders."""
    found: dict[str, bytes] = {}
    for suffix, modules in _MODULES.items():
        for name in modules:
            module = importlib.import_module(name)
            texts = {key: value for key, value in vars(module).items() if isinstance(value, str) and key[:1] != "_"}
            found |= {f"{key}{suffix}": text.encode() for key, text in texts.items() if len(text) > 100}
    music21 = _folder("music21")
    paths = [*(music21 / "musicxml").glob("*.*"), *(music21 / "humdrum").glob("*.krn")]
    paths += (_folder("partitura") / "assets").glob("*.*")
    for path in sorted(paths):
        if path.suffix in (".xml", ".mxl", ".musicxml", ".krn"):
            found[path.name] = path.read_bytes()
    return found


@pytest.fixture(scope="module")
def texts() -> dict[str, bytes]:
    """All files by name."""
    return _texts()


def _outcome(piece: Piece, part: str | None) -> tuple[int, str]:
    """How many notes a part has, and the refusal where it has none."""
    try:
        line = read_piece(piece, ReadingWishes(part=part))
    except ReadingError as error:
        return 0, str(error)
    for note, following in zip(line.notes, line.notes[1:], strict=False):
        assert note.duration_ticks > 0
        assert note.end_ticks <= following.onset_ticks
    return len(line.notes), ""


def _outcomes(data: bytes, name: str) -> list[tuple[int, str]]:
    try:
        pieces = pieces_of(data, name)
    except ReadingError as error:
        return [(0, str(error))]
    found: list[tuple[int, str]] = []
    for piece in pieces:
        notes, refusal = _outcome(piece, None)
        count = re.search(r"(\d+) (?:parts?|voices|\*\*kern spines?)", refusal) if "choose one" in refusal else None
        parts = [str(number) for number in range(1, int(count[1]) + 1)] if count else []
        found += [_outcome(piece, part) for part in parts] or [(notes, refusal)]
    return found


def test_every_file_reads_or_is_refused_clearly(texts: dict[str, bytes]) -> None:
    """At least 115 files; what is refused has no notes, or says what is wrong with the one file that is broken."""
    assert len(texts) >= 115
    refused = {name: [text for _, text in _outcomes(data, name) if text] for name, data in texts.items()}
    others = {text for found in refused.values() for text in found if "no notes in this line" not in text}
    # The one that gives no divisions and counts in 10,080 to the quarter.
    assert [text.split(":")[0] for text in others] == ["multiMeasureEnding.xml, bar 1"]


@pytest.mark.parametrize(
    ("name", "played"),
    [
        ("repeatExpressionsA.xml", [1, 1, 2, 3, 4, 2, 3]),
        # The coda sign stands at the start of bar 3, so one leaves behind bar 2.
        ("repeatExpressionsB.xml", [1, 1, 2, 3, 4, 1, 2, 5, 6]),
        ("multiDigitEnding.xml", [1, 2, 1, 2, 1, 3]),
        ("repeatBracketsA.xml", [1, 2, 1, 2, 3, 4, 5, 3, 6]),
        ("simpleRepeat45a.xml", [1, 1, 2]),
    ],
)
def test_playing_order(texts: dict[str, bytes], name: str, played: list[int]) -> None:
    """The bars are played as a musician would play them."""
    line = read_musicxml(texts[name], name, ReadingWishes())
    numbers = [line.bars[index].number for index in play_order(line.bars).indexes]
    assert numbers[: len(played)] == played


def _notes(texts: dict[str, bytes], name: str, part: str | None = None, voice: str = "top") -> list[str]:
    (piece,) = pieces_of(texts[name], name)
    line = read_piece(piece, ReadingWishes(part=part, voice=voice))  # type: ignore[arg-type]
    return [
        f"{n.spelling}@{n.onset_ticks / TICKS_PER_QUARTER:g}/{n.duration_ticks / TICKS_PER_QUARTER:g}"
        for n in line.notes[:12]
    ]


def test_samples_of_partitura(texts: dict[str, bytes]) -> None:
    """The same two staves twice: A4 below, a half note's rest and C5 with E5 above; staves are only named by notes."""
    assert _notes(texts, "score_example.krn", "1") == ["A4@0/4"]
    assert _notes(texts, "score_example.krn", "2") == ["E5@2/2"]
    assert _notes(texts, "score_example.krn", "2", "bottom") == ["C5@2/2"]
    assert _notes(texts, "score_example.musicxml", "1") == ["E5@2/2"]
    assert _notes(texts, "score_example.musicxml", "2") == ["A4@0/4"]


def test_old_humdrum_files(texts: dict[str, bytes]) -> None:
    """Tokens parted by spaces, and bar lines that are one too few, are read."""
    assert _notes(texts, "ojibway.krn")[:7] == [
        "Db4@0/0.75",
        "Db4@0.75/0.25",
        "Db4@1/0.5",
        "Ab3@1.5/0.25",
        "Ab3@1.75/0.25",
        "Db4@2/1",
        "Db4@3/1",
    ]
    assert _notes(texts, "splitLots.krn", "2") == ["E#4@0/2", "B#4@2/2", "C#4@4/1", "D#4@5/1"]
