"""``doctor`` on PostgreSQL: what the server cannot see to itself is found, and made again."""

import pytest

from db.connection import Database
from db.examine import examine
from db.mend import mend
from tests.db.helpers import is_sound, store_lines
from tests.generators.lines import walking_line

pytestmark = pytest.mark.server_only


@pytest.fixture
def filled(database: Database) -> Database:
    """A database with four lines."""
    store_lines(database, [walking_line(seed, 6) for seed in range(4)])
    return database


@pytest.mark.parametrize(
    ("damage", "kind"),
    [
        ("DROP INDEX folded_index", "index"),
        ("DROP INDEX ix_transcription_player", "schema"),
        ("DROP FUNCTION wellworn_casefold", "schema"),
        (
            "CREATE OR REPLACE FUNCTION wellworn_casefold(whole text) RETURNS text LANGUAGE sql AS 'SELECT whole'",
            "schema",
        ),
        ("UPDATE reading SET folded = 'abc' WHERE transcription_id = 2", "derived"),
        ("DELETE FROM harmony WHERE transcription_id = 3", "derived"),
        ("UPDATE transcription SET note_count = 1 WHERE id = 1", "derived"),
        ("UPDATE pg_index SET indisvalid = false WHERE indexrelid = 'role_index'::regclass", "file"),
    ],
)
def test_damage_is_found_and_mended(filled: Database, damage: str, kind: str) -> None:
    """Sound before, told in words, sound after."""
    assert examine(filled).troubles == ()
    with filled.connect() as connection:
        connection.exec_driver_sql(damage)
    found = examine(filled)
    assert kind in {trouble.kind for trouble in found.troubles}
    assert all(trouble.is_mendable for trouble in found.troubles)
    mend(filled, found.troubles)
    assert examine(filled).troubles == ()
    assert is_sound(filled)


def test_what_is_not_ours_and_what_is_lost_is_only_told(filled: Database) -> None:
    """A trigger of somebody else's stays, and so does a line without its notes."""
    with filled.connect() as connection:
        connection.exec_driver_sql("CREATE FUNCTION odd() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'")
        connection.exec_driver_sql("CREATE TRIGGER odd BEFORE UPDATE ON line EXECUTE FUNCTION odd()")
        connection.exec_driver_sql("DELETE FROM line WHERE transcription_id = 4")
    found = examine(filled)
    mend(filled, found.troubles)
    assert {trouble.kind for trouble in examine(filled).troubles} == {"schema", "lost"}
    with filled.connect() as connection:
        connection.exec_driver_sql("DROP FUNCTION odd CASCADE")
