"""Storing lines without files, and counting what is in a database."""

import hashlib
from collections.abc import Sequence

from corpus.model import Transcription
from db.connection import Database
from db.server_check import index_troubles
from db.store import SourceFile, add_source, prepare


def source(name: str, content: str = "") -> SourceFile:
    """A source whose hash follows from name and content."""
    return SourceFile(name, hashlib.sha256(f"{name} {content}".encode()).hexdigest(), "", len(content))


def store_lines(database: Database, lines: Sequence[Transcription], name: str = "lines.abc") -> list[int]:
    """Store lines as one file; returns their IDs."""
    return list(add_source(database, source(name), [prepare(line) for line in lines], "").ids)


def scalar(database: Database, sql: str) -> int:
    """One number out of the database."""
    with database.reading() as connection:
        return int(connection.exec_driver_sql(sql).scalar_one())


def is_sound(database: Database) -> bool:
    """SQLite's own check, and the trigram indexes against the readings they were made from.

    PostgreSQL keeps its indexes and references itself; there, each index must give what a scan gives.
    """
    if database.is_on_server:
        return not list(index_troubles(database))
    with database.reading() as connection:
        checked = connection.exec_driver_sql("PRAGMA integrity_check").scalar_one()
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    with database.writing() as connection:
        for name in ("folded", "folded_collapsed", "letter", "letter_collapsed"):
            # Raises when index and content differ.
            connection.exec_driver_sql(f"INSERT INTO {name}_index({name}_index, rank) VALUES ('integrity-check', 1)")
    return checked == "ok" and not broken
