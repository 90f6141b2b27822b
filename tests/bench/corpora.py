"""The corpora that are timed: all tunes that music21 ships in ABC, and ten million generated notes."""

import time
from dataclasses import dataclass
from pathlib import Path

from corpus.read.written import ReadingWishes
from db.connection import Database
from db.intake import IntakeOptions, add_files
from db.opening import open_database
from db.paths import expand
from tests.bench.filling import fill

BENCH_FOLDER = Path(".bench")
ABC_COLLECTIONS = ("oneills1850", "ryansMammoth", "airdsAirs", "essenFolksong", "miscFolk")


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


def generated(lines: int) -> Filled:
    """Generated choruses of about a hundred notes; the seconds are those of storing, after preparation."""
    database = _fresh(f"generated-{lines}.db")
    filling = fill(database, lines)
    return Filled(database, filling.notes, filling.store_seconds)
