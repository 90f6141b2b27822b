"""The corpora that are timed: all tunes that music21 ships in ABC, and ten million generated notes."""

import hashlib
import os
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from corpus.read.written import ReadingWishes
from db.connection import Database
from db.intake import IntakeOptions, add_files
from db.opening import open_database
from db.paths import expand
from db.replacing import PreparedLine
from db.store import SourceFile, add_source, prepare
from tests.generators.lines import walking_line

BENCH_FOLDER = Path(".bench")
ABC_COLLECTIONS = ("oneills1850", "ryansMammoth", "airdsAirs", "essenFolksong", "miscFolk")
_LINES_A_FILE = 100


@dataclass(frozen=True, slots=True)
class Filled:
    """A database, its number of notes, and the seconds that filling it took."""

    database: Database
    notes: int
    seconds: float


def _fresh(name: str) -> Database:
    BENCH_FOLDER.mkdir(exist_ok=True)
    for suffix in ("", "-wal", "-shm"):
        (BENCH_FOLDER / f"{name}{suffix}").unlink(missing_ok=True)
    return open_database(f"sqlite:///{(BENCH_FOLDER / name).absolute()}", create=True)


def music21_tunes() -> Filled:
    """All ABC tunes of music21, added anew."""
    database = _fresh("music21.db")
    begun = time.perf_counter()
    notes = 0
    for name in ABC_COLLECTIONS:
        for report in add_files(database, expand([f"music21:{name}"]), IntakeOptions(ReadingWishes())):
            notes += report.notes
    return Filled(database, notes, time.perf_counter() - begun)


def _prepared(first: int) -> list[PreparedLine]:
    return [prepare(walking_line(seed)) for seed in range(first, first + _LINES_A_FILE)]


def generated(lines: int) -> Filled:
    """Generated walking lines of about 103 notes; the seconds are those of storing, after preparation."""
    database = _fresh(f"generated-{lines}.db")
    notes = 0
    seconds = 0.0
    for number, prepared in enumerate(_batches(lines)):
        digest = hashlib.sha256(str(number).encode()).hexdigest()
        begun = time.perf_counter()
        add_source(database, SourceFile(f"generated-{number}.abc", digest, "", 0), prepared, "generated")
        seconds += time.perf_counter() - begun
        notes += sum(line.columns["note_count"] for line in prepared)
        if sys.stderr.isatty():
            sys.stderr.write(f"\r  {notes:,} notes stored")
    return Filled(database, notes, seconds)


def _batches(lines: int) -> Iterator[list[PreparedLine]]:
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        yield from pool.map(_prepared, range(0, lines, _LINES_A_FILE), chunksize=1)


def file_bytes(database: Database) -> int:
    """The size of a SQLite database once its log is written back."""
    assert database.file is not None
    with database.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    return database.file.stat().st_size
