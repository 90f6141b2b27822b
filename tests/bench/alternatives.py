"""Other ways to do the same work, for comparison: music21's own objects, a buffer in memory, a row for each note."""

import sqlite3
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from corpus.match.figure import Figure, Folds
from corpus.match.pattern import pattern_of
from corpus.model import Transcription
from db.connection import Database
from db.paths import expand
from tests.bench.corpora import BENCH_FOLDER
from tests.generators.lines import walking_line


def parse_with_music21(path: str) -> int:
    """Parse one file with music21; returns its number of notes."""
    from music21 import converter

    score = converter.parse(path, forceSource=True)
    return sum(1 for _ in score.recurse().notes)


def music21_parse_seconds(paths: Sequence[str], processes: int = 2) -> float:
    """What music21 itself takes for files, spread over processes that have it loaded already."""
    import music21  # noqa: F401 (loaded before the fork, so that the import is not counted)

    with ProcessPoolExecutor(processes) as pool:
        begun = time.perf_counter()
        list(pool.map(parse_with_music21, paths))
        return time.perf_counter() - begun


def music21_interval_seconds_a_note(figure: Figure) -> float:
    """Seconds a note of comparing music21's ``melodicIntervals`` with the figure, on a sample of tunes."""
    from music21 import converter

    assert figure.pitches is not None
    wanted = [b - a for a, b in zip(figure.pitches, figure.pitches[1:], strict=False)]
    path = next(file.path for file in expand(["music21:oneills1850"]) if file.path)
    scores = list(converter.parse(path, forceSource=True).getElementsByClass("Score"))[:12]
    notes = sum(len(score.recurse().notes) for score in scores)
    begun = time.perf_counter()
    for score in scores:
        sizes = [interval.semitones for interval in score.flatten().notes.stream().melodicIntervals()]
        for start in range(len(sizes) - len(wanted) + 1):
            if sizes[start : start + len(wanted)] == wanted:
                pass
    return (time.perf_counter() - begun) / notes


def buffer_of(database: Database) -> bytes:
    """All interval readings as one buffer in memory."""
    with database.reading() as connection:
        rows = connection.exec_driver_sql("SELECT interval FROM reading ORDER BY transcription_id")
        return "\n".join(row[0] for row in rows).encode()


def count_in(buffer: bytes, figure: Figure) -> int:
    """How often a figure stands in a buffer of interval readings, with ``bytes.find``."""
    wanted = pattern_of(figure, Folds()).texts()[0].encode()
    count, start = 0, buffer.find(wanted)
    while start >= 0:
        count, start = count + 1, buffer.find(wanted, start + 1)
    return count


def row_a_note(lines: int) -> tuple[float, float]:
    """Bytes a note and notes a second of storing a row for each note, with the index that finding lines needs."""
    path = Path(BENCH_FOLDER / "row-a-note.db")
    path.unlink(missing_ok=True)
    studies: list[Transcription] = [walking_line(seed) for seed in range(lines)]
    total = sum(len(study.notes) for study in studies)
    begun = time.perf_counter()
    with sqlite3.connect(path) as connection:
        connection.execute(
            "CREATE TABLE note (transcription_id INTEGER, position INTEGER, onset INTEGER, duration INTEGER, "
            "pitch INTEGER, spelling TEXT, bar INTEGER, interval INTEGER, step INTEGER, "
            "PRIMARY KEY (transcription_id, position)) WITHOUT ROWID"
        )
        for identity, study in enumerate(studies):
            pitches = [note.pitch or 0 for note in study.notes]
            connection.executemany(
                "INSERT INTO note VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                [
                    (identity, i, n.onset_ticks, n.duration_ticks, n.pitch, n.spelling, n.bar_index,
                     pitches[i] - pitches[i - 1] if i else None, 0)
                    for i, n in enumerate(study.notes)
                ],
            )  # fmt: skip
        connection.execute("CREATE INDEX note_interval ON note (interval, transcription_id, position)")
    seconds = time.perf_counter() - begun
    connection.close()
    return path.stat().st_size / total, total / seconds
