"""Readers and writers at once: nobody who reads waits, nobody sees half of a change."""

from db.catalogue import Selection, entries
from db.connection import Database
from db.store import remove
from tests.db.helpers import store_lines
from tests.generators.lines import walking_line


def test_readers_never_wait_for_a_writer(database: Database) -> None:
    """While a writer is in the middle of its transaction, readers see the state before it, at once."""
    store_lines(database, [walking_line(seed, 4) for seed in range(4)])
    other = Database(database.url)
    try:
        with database.writing() as writing:
            writing.exec_driver_sql("DELETE FROM harmony")
            writing.exec_driver_sql("UPDATE transcription SET title = 'Another'")
            with other.reading() as connection:
                if database.file is not None:
                    # Whoever had to wait would fail at once.
                    connection.exec_driver_sql("PRAGMA busy_timeout = 0")
                found, total = entries(connection, Selection())
            assert total == 4
            assert "Another" not in {entry.details.title for entry in found}
        with other.reading() as connection:
            assert {entry.details.title for entry in entries(connection, Selection())[0]} == {"Another"}
    finally:
        other.close()


def test_a_reader_keeps_its_state_while_others_write(database: Database) -> None:
    """A reading transaction sees one state from beginning to end, and never keeps a writer from finishing."""
    store_lines(database, [walking_line(seed, 4) for seed in range(3)])
    other = Database(database.url)
    try:
        with database.reading() as connection:
            assert entries(connection, Selection())[1] == 3
            remove(other, [1, 2])
            assert entries(connection, Selection())[1] == 3
        with database.reading() as connection:
            assert entries(connection, Selection())[1] == 1
    finally:
        other.close()
