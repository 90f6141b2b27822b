"""Small Humdrum texts for tests: columns parted by spaces here, by tabs in the file."""

from corpus.model import TICKS_PER_QUARTER
from corpus.read.kern import read_kern, split_pieces
from corpus.read.written import ReadingWishes, WrittenLine


def kern(text: str) -> bytes:
    """A file from lines whose columns are parted by two spaces or more."""
    lines = [line.strip() for line in text.strip().splitlines()]
    return "\n".join(line if line.startswith("!!") else "\t".join(line.split("  ")) for line in lines).encode()


def read(text: str, **wishes: object) -> WrittenLine:
    """Read the first piece of a text under the name ``study.krn``."""
    return read_kern(split_pieces(kern(text), "study.krn")[0], ReadingWishes(**wishes))  # type: ignore[arg-type]


def notes_of(line: WrittenLine) -> list[list[tuple[float, float, str]]]:
    """Offset and duration in quarter notes and spelling (empty: no pitch) of the notes, bar by bar."""
    return [
        [
            (round(n.offset_ticks / TICKS_PER_QUARTER, 4), round(n.duration_ticks / TICKS_PER_QUARTER, 4), n.spelling)
            for n in bar.notes
        ]
        for bar in line.bars
    ]


def chords_of(line: WrittenLine) -> list[list[tuple[float, str]]]:
    """Offset in quarter notes and symbol of the chords, bar by bar."""
    return [[(c.offset_ticks / TICKS_PER_QUARTER, c.symbol) for c in bar.chords] for bar in line.bars]


def remarks_of(line: WrittenLine) -> str:
    """All remarks in one text."""
    return "; ".join(finding.text for finding in line.findings)
