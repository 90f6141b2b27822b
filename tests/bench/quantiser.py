"""How well played lines come back as they were written: our quantiser beside music21's own.

Every seed line is performed (``tests.generators.performed``) at swing ratios from 1 : 1 to 3 : 1, straying by 10, 20
and 30 ms, and read again. A note comes back when onset and pitch are those that were written, *whole* when its
duration is too. music21 reads the same files with its default divisors (quarters and thirds of a quarter); it takes
dead notes as notes, as we do. Target: at 20 ms, 98 % of notes at every ratio.
"""

import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from corpus.model import TICKS_PER_QUARTER, Transcription
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from tests.bench import timing
from tests.generators.performed import performed

RATIOS = (1.0, 1.5, 2.0, 2.5, 3.0)
NOISES_MS = (10, 20, 30)
_SEED_DATA = Path(__file__).parents[2] / "seed_data"
Place = tuple[int, int, int]
"""Onset and duration in ticks, pitch."""


@dataclass(frozen=True, slots=True)
class Share:
    """Notes written, and how many came back with onset and pitch, and with their duration too."""

    notes: int = 0
    onsets: int = 0
    whole: int = 0

    def __add__(self, other: "Share") -> "Share":
        return Share(self.notes + other.notes, self.onsets + other.onsets, self.whole + other.whole)


@cache
def seed_lines() -> tuple[Transcription, ...]:
    """The lines of the seed data."""
    files = sorted(path for path in _SEED_DATA.iterdir() if path.suffix in (".abc", ".musicxml"))
    pieces = (piece for path in files for piece in pieces_of(path.read_bytes(), path.name))
    return tuple(read_piece(piece, ReadingWishes()) for piece in pieces)


def written(line: Transcription) -> list[Place]:
    """What should come back: dead notes at the pitch at which they are struck."""
    found: list[Place] = []
    pitch = 40
    for note in line.notes:
        pitch = note.pitch if note.pitch is not None else pitch
        found.append((note.onset_ticks, note.duration_ticks, pitch))
    return found


def ours(data: bytes) -> list[Place]:
    """The notes as our reader writes them."""
    [piece] = pieces_of(data, "played.mid")
    return [(n.onset_ticks, n.duration_ticks, n.pitch or 0) for n in read_piece(piece, ReadingWishes()).notes]


def music21s(data: bytes) -> list[Place]:
    """The notes as music21 quantises them by default."""
    from music21 import converter

    with tempfile.NamedTemporaryFile(suffix=".mid") as file:
        file.write(data)
        file.flush()
        score = converter.parse(file.name, forceSource=True)
    found: list[Place] = []
    for note in score.flatten().notes:
        onset, length = (round(float(value) * TICKS_PER_QUARTER) for value in (note.offset, note.quarterLength))
        found += [(onset, length, pitch.midi) for pitch in note.pitches]
    return found


def share(wanted: Sequence[Place], found: Sequence[Place]) -> Share:
    """How much of what was written came back."""

    def both(places: Iterable[tuple[int, ...]], others: Iterable[tuple[int, ...]]) -> int:
        return sum((Counter(places) & Counter(others)).values())

    onsets = both(((on, pitch) for on, _, pitch in wanted), ((on, pitch) for on, _, pitch in found))
    return Share(len(wanted), onsets, both(wanted, found))


def shares(ratio: float, noise_ms: int, lines: Iterable[Transcription], seed: int) -> tuple[Share, Share]:
    """How much of lines comes back from our reader and from music21."""
    mine, theirs = Share(), Share()
    for number, line in enumerate(lines):
        data = performed(line, ratio, noise_ms, seed + number)
        mine += share(written(line), ours(data))
        theirs += share(written(line), music21s(data))
    return mine, theirs


def report() -> list[str]:
    """The table in Markdown: a row for each ratio and straying."""
    rows = [
        "| swing | straying | ours: onsets | whole notes | music21: onsets | whole notes |",
        "|---|---|---|---|---|---|",
    ]
    for noise in NOISES_MS:
        for ratio in RATIOS:
            mine, theirs = shares(ratio, noise, seed_lines(), seed=100)
            cells = [f"{100 * part / s.notes:.1f} %" for s in (mine, theirs) for part in (s.onsets, s.whole)]
            rows.append(f"| {ratio:g} : 1 | {noise} ms | {' | '.join(cells)} |")
    return rows


def report_quantiser() -> None:
    """The rows at 20 ms, with their target."""
    for ratio in RATIOS:
        mine, theirs = shares(ratio, 20, seed_lines(), seed=100)
        ours_whole, their_whole = (100 * one.whole / one.notes for one in (mine, theirs))
        figures = f"{ours_whole:.1f} % of notes come back whole, {their_whole:.1f} % from music21"
        timing.report(f"played at {ratio:g} : 1, straying 20 ms", figures, "98 %", ours_whole >= 98)


if __name__ == "__main__":
    print("\n".join(report()))  # noqa: T201
