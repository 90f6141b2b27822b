"""Examining and mending: each kind of damage is done on purpose, found, told, and repaired where that is safe."""

import random
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from corpus.errors import SystemTroubleError
from corpus.match.figure import figure_from_notes
from corpus.shelf.kept import KeptFigure, KeptNote, KeptSource
from db.connection import Database
from db.editing import edit
from db.examine import Diagnosis, examine
from db.mend import mend
from db.opening import open_database
from db.recur import RecurQuestion, recur
from db.search import Question, search
from db.shelf import change_shelf, load_shelf
from db.store import remove
from tests.db.helpers import is_sound, scalar, store_lines
from tests.generators.lines import walking_line

pytestmark = pytest.mark.sqlite_only(reason="damage is done to the file; there is test_server_doctor")


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a database with five lines, one edited; a discovery; a kept figure that came from line 2."""
    file = tmp_path_factory.mktemp("whole") / "lines.db"
    with closing(open_database(f"sqlite:///{file}", create=True)) as database:
        store_lines(database, [walking_line(seed, 8) for seed in range(5)])
        edit(database, [3], {"key": "Eb major", "form": "A4"})
        recur(database, RecurQuestion())
        notes = (KeptNote("Bb2", 0, 10080), KeptNote("C3", 10080, 10080))
        source = KeptSource("Study 1", "Player 1", "1", ("Bb2", "C3"), 2, 0, 1)
        change_shelf(database, lambda shelf: [*shelf, KeptFigure("Two notes", notes, sources=(source,))])
    return file


@pytest.fixture
def filled(whole: Path, tmp_path: Path) -> Iterator[Database]:
    """A copy of it to do damage to."""
    with closing(Database(f"sqlite:///{shutil.copy(whole, tmp_path / 'lines.db')}")) as database:
        yield database


def sql(database: Database, *statements: str) -> None:
    """Change a database behind wellworn's back, without its settings."""
    assert database.file is not None
    with closing(sqlite3.connect(database.file)) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.commit()


def kinds(found: Diagnosis) -> set[tuple[str, bool]]:
    """What was found: kind, and whether it is wrong."""
    return {(trouble.kind, trouble.is_wrong) for trouble in found.troubles}


def test_a_sound_database_is_called_sound_and_mending_it_changes_nothing(filled: Database) -> None:
    """Edited lines, discoveries and kept figures are no trouble."""
    found = examine(filled)
    assert (found.troubles, found.line_count, found.compared) == ((), 5, 5)
    assert found.is_well
    assert filled.file is not None
    with closing(sqlite3.connect(filled.file)) as connection:
        before = list(connection.iterdump())
        mend(filled, found.troubles)
        assert list(connection.iterdump()) == before


_TRIGGERS = ("DROP TRIGGER reading_inserted", "DROP TRIGGER reading_deleted", "DROP TRIGGER reading_updated")


@pytest.mark.parametrize(
    ("damage", "expected"),
    [
        (("UPDATE reading SET interval = 'zz' WHERE transcription_id = 2",), {("derived", True)}),
        (("UPDATE reading SET role_collapsed = '' WHERE transcription_id = 1",), {("derived", True)}),
        (("DELETE FROM reading WHERE transcription_id = 5",), {("derived", True)}),
        (("UPDATE harmony SET functions = 'x' || functions WHERE level = 2",), {("derived", True)}),
        (("DELETE FROM harmony WHERE transcription_id = 3",), {("derived", True)}),
        (("UPDATE transcription SET note_count = 1 WHERE id = 4",), {("derived", True)}),
        (("INSERT INTO folded_index(folded_index) VALUES ('delete-all')",), {("index", True)}),
        (("UPDATE role_index_data SET block = x'0102030405' WHERE id > 10",), {("index", True)}),
        (("DROP TABLE letter_index",), {("schema", True), ("index", True)}),
        (("DROP TRIGGER reading_deleted",), {("schema", True)}),
        (("DROP INDEX ix_transcription_title",), {("schema", True)}),
        (
            (*_TRIGGERS, "UPDATE reading SET folded = 'abc', letter = 'abc' WHERE transcription_id = 1"),
            {("schema", True), ("derived", True), ("index", True)},
        ),
        (
            (
                "DROP TRIGGER reading_updated",
                "CREATE TRIGGER reading_updated AFTER UPDATE ON reading BEGIN DELETE FROM source; END",
            ),
            {("schema", True)},
        ),
        (("DELETE FROM source",), {("sources", True), ("families", False)}),
        (("INSERT INTO family VALUES (77, 0, 'abcdef', x'00')",), {("orphans", True)}),
        (("INSERT INTO harmony VALUES (0, 88, 'a', x'00', '')",), {("orphans", True)}),
        (("INSERT INTO family SELECT id, 99, 'abcdef', x'001122' FROM discovery",), {("families", True)}),
        (("UPDATE discovery SET asked = 'nonsense'",), {("families", True)}),
        (("UPDATE discovery SET lines_hash = 'old'",), {("families", False)}),
        (("UPDATE shelf_source SET transcription_id = 99",), {("links", False)}),
        (("UPDATE shelf_source SET last = 5000",), {("links", False)}),
    ],
)
def test_what_follows_from_the_notes_is_found_damaged_and_made_again(
    filled: Database, damage: tuple[str, ...], expected: set[tuple[str, bool]]
) -> None:
    """Each damage is found, and nothing else; after mending everything is as it was, and searched as it was."""
    figure = figure_from_notes("Bb2 C3 D3")
    with filled.reading() as connection:
        wanted = sorted((hit.entry.id, hit.occurrence.first) for hit in search(connection, Question(figure)).hits)
    assert wanted
    sql(filled, *damage)
    found = examine(filled)
    assert kinds(found) == expected
    assert found.is_well == (not any(wrong for _, wrong in expected))
    assert all(trouble.is_mendable for trouble in found.troubles)
    mend(filled, found.troubles)
    assert examine(filled).troubles == ()
    assert is_sound(filled)
    with filled.reading() as connection:
        again = sorted((hit.entry.id, hit.occurrence.first) for hit in search(connection, Question(figure)).hits)
        assert (again, len(load_shelf(connection))) == (wanted, 1)
    assert scalar(filled, "SELECT count(*) FROM transcription") == 5


@pytest.mark.parametrize(
    ("damage", "kind", "words"),
    [
        ("DELETE FROM line WHERE transcription_id = 2", "lost", "without their notes: 2"),
        ("UPDATE line SET notes = x'00' WHERE transcription_id = 3", "lost", "cannot be read: 3"),
        ("UPDATE line SET layout = x'789c030000000001' WHERE transcription_id = 3", "lost", "cannot be read: 3"),
        ("UPDATE transcription SET key = 'H sharp' WHERE id = 1", "lost", "cannot be read: 1"),
        ("INSERT INTO line VALUES (66, x'00', x'00')", "orphans", "notes of a transcription that is not there: 66"),
        ("INSERT INTO practice VALUES (1, 55, '2026-01-01', 90, '[]', NULL)", "orphans", "practice entries"),
        ("UPDATE shelf_figure SET music = '{}'", "shelf", "'Two notes' cannot be read"),
        ("CREATE TRIGGER hidden AFTER INSERT ON line BEGIN DELETE FROM source; END", "schema", "hidden"),
        ("CREATE VIEW reading_view AS SELECT 1", "schema", "view reading_view"),
        ("DROP TABLE practice", "tables", "practice is missing"),
    ],
)
def test_what_nothing_can_be_made_from_is_told_and_left_as_it_is(
    filled: Database, damage: str, kind: str, words: str
) -> None:
    """The user's own work is never thrown away by a repair: it says what is wrong and what to do."""
    sql(filled, damage)
    found = examine(filled)
    [trouble] = [trouble for trouble in found.troubles if trouble.kind == kind]
    assert words in trouble.words
    assert not found.is_well
    assert not trouble.is_mendable
    assert filled.file is not None
    with closing(sqlite3.connect(filled.file)) as connection:
        tables = ("line", "transcription", "shelf_figure", "shelf_source")
        before = [connection.execute(f"SELECT * FROM {table}").fetchall() for table in tables]
        mend(filled, found.troubles)
        assert [connection.execute(f"SELECT * FROM {table}").fetchall() for table in tables] == before
    assert kind in {trouble.kind for trouble in examine(filled).troubles}


def test_families_are_stale_after_a_line_is_gone(filled: Database) -> None:
    """Nothing is wrong then, and mending drops them; the kept figure lost its link when its line went."""
    remove(filled, [2])
    found = examine(filled)
    assert kinds(found) == {("families", False)}
    mend(filled, found.troubles)
    assert scalar(filled, "SELECT count(*) FROM discovery") == 0
    assert scalar(filled, "SELECT count(*) FROM family") == 0


def test_pages_written_over_are_told_without_a_traceback(filled: Database) -> None:
    """Random bytes in the middle of the file: damaged, restore a backup; never called sound."""
    assert filled.file is not None
    filled.close()
    sql(filled, "PRAGMA wal_checkpoint(TRUNCATE)")
    data = filled.file.read_bytes()
    chance = random.Random(3)
    pages = len(data) // 4096
    for _ in range(6):
        spoiled = bytearray(data)
        page = chance.randrange(2, pages)
        spoiled[page * 4096 : (page + 1) * 4096] = chance.randbytes(4096)
        filled.file.write_bytes(spoiled)
        with closing(Database(filled.url)) as damaged:
            try:
                assert not examine(damaged).is_well
            except SystemTroubleError as error:
                assert "damaged" in str(error)  # noqa: PT017 (either answer is right)


def test_of_many_lines_a_choice_is_compared(filled: Database) -> None:
    """As many as asked for; all of them when that is enough."""
    assert examine(filled, 2).compared == 2
    assert examine(filled, 50).compared == 5
    seen: list[tuple[int, int]] = []
    examine(filled, None, lambda done, of: seen.append((done, of)))
    assert seen == [(number, 5) for number in range(1, 6)]
