"""Filling a database with generated choruses, as far as it is not filled already, and its size on disk."""

import hashlib
import os
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Final

from db.connection import Database
from db.replacing import PreparedLine
from db.store import SourceFile, add_source, prepare
from tests.generators.choruses import chorus

CHORUSES_A_FILE: Final = 100
_SOURCE: Final = "choruses-{}.abc"


@dataclass(frozen=True, slots=True)
class Filling:
    """What one call of ``fill`` did: notes added, and seconds of making them ready (CPU) and of storing them (wall and
    CPU)."""

    notes: int = 0
    prepare_cpu: float = 0.0
    store_seconds: float = 0.0
    store_cpu: float = 0.0


def fill(database: Database, choruses: int) -> Filling:
    """Add choruses until there are so many; those that are there stay. Choruses come in files of a hundred."""
    with database.reading() as connection:
        there = connection.exec_driver_sql("SELECT count(*) FROM transcription").scalar_one()
    notes, prepare_cpu, seconds, cpu = 0, 0.0, 0.0, 0.0
    for number, (prepared, taken) in enumerate(_batches(there, choruses), start=there // CHORUSES_A_FILE):
        name = _SOURCE.format(number)
        source = SourceFile(name, hashlib.sha256(name.encode()).hexdigest(), "", 0)
        begun, begun_cpu = time.perf_counter(), time.process_time()
        add_source(database, source, prepared, "generated")
        seconds += time.perf_counter() - begun
        cpu += time.process_time() - begun_cpu
        prepare_cpu += taken
        notes += sum(line.columns["note_count"] for line in prepared)
        if sys.stderr.isatty():
            sys.stderr.write(f"\r  {notes:,} notes stored")
    return Filling(notes, prepare_cpu, seconds, cpu)


def _prepared(first: int) -> tuple[list[PreparedLine], float]:
    choruses = [chorus(number) for number in range(first, first + CHORUSES_A_FILE)]
    begun = time.process_time()
    return [prepare(line) for line in choruses], time.process_time() - begun


def _batches(there: int, choruses: int) -> Iterator[tuple[list[PreparedLine], float]]:
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        yield from pool.map(_prepared, range(there, choruses, CHORUSES_A_FILE), chunksize=1)


def size_in_bytes(database: Database) -> int:
    """The size of the database: of its file once its log is written back, or what a server says."""
    with database.connect() as connection:
        if database.file is None:
            return int(connection.exec_driver_sql("SELECT pg_database_size(current_database())").scalar_one())
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    return database.file.stat().st_size
