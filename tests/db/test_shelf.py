"""The shelf in the database: storing, live links, places in new lines, and what upgrades and crashes leave."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from hypothesis import HealthCheck, given, settings

from corpus.match.figure import figure_from_notes
from corpus.pitch import default_spelling
from corpus.shelf.compare import compare, taken_over
from corpus.shelf.file import read_shelf, write_shelf
from corpus.shelf.keeping import from_passage, from_typed
from corpus.shelf.kept import KeptFigure, Practice
from db.connection import Database
from db.opening import SCHEMA, open_database
from db.search import search
from db.shelf import change_shelf, count_places, ids_of_files, live_sources, load_shelf, places_in, question_of
from db.store import add_source, prepare, remove
from tests.databases import examples
from tests.db.helpers import is_sound, scalar, source, store_lines
from tests.generators.lines import walking_line
from tests.generators.shelves import LATEST, SHELVES


def shelf_of(database: Database) -> list[KeptFigure]:
    """What is on the shelf."""
    with database.reading() as connection:
        return load_shelf(connection)


def put(database: Database, *figures: KeptFigure) -> None:
    """Put figures on the shelf."""
    change_shelf(database, lambda shelf: [*shelf, *figures])


def put_instead(database: Database, shelf: Sequence[KeptFigure]) -> None:
    """Make the shelf another one."""
    change_shelf(database, lambda _: shelf)


def typed(name: str, notes: str) -> KeptFigure:
    """A figure of typed notes."""
    return from_typed(name, figure_from_notes(notes))


@settings(max_examples=examples(40), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(SHELVES, SHELVES)
def test_export_then_import_into_an_empty_database_then_export_gives_the_same_bytes(
    database: Database, first: list[KeptFigure], second: list[KeptFigure]
) -> None:
    """Whatever was on the shelf before; and what a change leaves is exactly what the change said."""
    for shelf in (first, second, []):
        put_instead(database, shelf)
        exported = write_shelf(shelf_of(database), with_practice=True)
        assert exported == write_shelf(shelf, with_practice=True)
        put_instead(database, [])
        put_instead(database, taken_over([], compare([], read_shelf(exported, "x.json", LATEST)), {}).shelf)
        assert write_shelf(shelf_of(database), with_practice=True) == exported
    assert [scalar(database, f"SELECT count(*) FROM {name}") for name in ("shelf_figure", "shelf_source")] == [0, 0]
    assert scalar(database, "SELECT count(*) FROM practice") == 0


def test_a_change_that_fails_changes_nothing(database: Database) -> None:
    """All of it is one transaction: also what was written before the failure."""
    put(database, typed("Turn", "C3 D3 E3"))

    def fail(shelf: Sequence[KeptFigure]) -> Sequence[KeptFigure]:
        raise RuntimeError("stopped")

    with pytest.raises(RuntimeError, match="stopped"):
        change_shelf(database, fail)
    twice = [typed("Turn", "C3 E3"), typed("New", "C3 G3"), replace(typed("Newer", "C3 G3"), comment="x")]

    def break_off(connection: sa.Connection, *_rest: object) -> None:
        if "Newer" in str(_rest):
            raise RuntimeError("broken off")

    sa.event.listen(database._engine, "before_cursor_execute", break_off)
    with pytest.raises(RuntimeError, match="broken off"):
        change_shelf(database, lambda _: twice)
    sa.event.remove(database._engine, "before_cursor_execute", break_off)
    assert [(figure.name, len(figure.notes)) for figure in shelf_of(database)] == [("Turn", 3)]
    assert is_sound(database)


def test_a_source_links_to_its_line_as_long_as_it_is_there(database: Database) -> None:
    """Removed, the words stay; and another line that is given the same ID is not mistaken for it."""
    line = walking_line(1)
    (identity,) = store_lines(database, [line])
    put(database, from_passage("Turn", line, 4, 8, identity))
    with database.reading() as connection:
        (live,) = live_sources(connection, load_shelf(connection)[0])
    assert (live.state, live.passage, live.source.transcription) == ("live", live.source.passage, identity)
    assert live.passage.startswith("2:1-")
    remove(database, [identity])
    (again,) = store_lines(database, [line], "other.abc")
    assert again == identity
    with database.reading() as connection:
        (gone,) = live_sources(connection, load_shelf(connection)[0])
    assert (gone.state, gone.source.words, gone.source.transcription) == ("gone", live.source.words, None)


def test_a_source_follows_its_notes_when_the_file_is_replaced(database: Database) -> None:
    """The line keeps its ID: moved notes are found again, changed ones are told."""
    line = walking_line(1)
    (identity,) = store_lines(database, [line], "a.abc")
    put(database, from_passage("Turn", line, 40, 48, identity))
    without_first = replace(line, notes=line.notes[1:])
    stored = add_source(database, source("a.abc", "moved"), [prepare(without_first)], "", replace_older=True)
    assert stored.ids == (identity,)
    with database.reading() as connection:
        (moved,) = live_sources(connection, load_shelf(connection)[0])
    assert (moved.state, moved.source.first, moved.source.last) == ("live", 39, 47)
    heights = [(note.pitch or 0) + index % 2 for index, note in enumerate(line.notes)]
    raised = tuple(
        note._replace(pitch=pitch, spelling=default_spelling(pitch))
        for note, pitch in zip(line.notes, heights, strict=True)
    )
    add_source(database, source("a.abc", "else"), [prepare(replace(line, notes=raised))], "", replace_older=True)
    with database.reading() as connection:
        (changed,) = live_sources(connection, load_shelf(connection)[0])
    assert changed.state == "changed"


def test_a_line_that_its_file_no_longer_holds_loses_the_link(database: Database) -> None:
    """Replacing a file by one with other lines."""
    lines = [walking_line(1), walking_line(2)]
    ids = store_lines(database, lines, "a.abc")
    put(database, from_passage("Turn", lines[1], 0, 4, ids[1]))
    add_source(database, source("a.abc", "new"), [prepare(lines[0])], "", replace_older=True)
    assert scalar(database, "SELECT count(*) FROM shelf_source WHERE transcription_id IS NULL") == 1


def test_places_in_lines_are_those_that_search_finds(database: Database) -> None:
    """For passages of the lines themselves, doubled and octave-shifted ones, and figures of one repeated note."""
    lines = [walking_line(seed) for seed in range(6)]
    ids = store_lines(database, lines)
    figures = [from_passage(f"p{k}", lines[k % 6], 7 * k, 7 * k + 2 + k % 3, None) for k in range(8)]
    figures += [typed("doubled", "C3 C3 D3 D3"), typed("wide", "C3 D5"), typed("one note", "C3 C3")]
    with database.reading() as connection:
        places = places_in(connection, figures, ids[:4])
        for figure in figures:
            found = [hit.entry.id for hit in search(connection, question_of(figure)).hits]
            assert places[figure.name] == {i: found.count(i) for i in ids[:4] if i in found}
            assert count_places(connection, figure) == len(found)
        assert sum(places["one note"].values()) > 0
        assert sum(places["doubled"].values()) > 0
        assert ids_of_files(connection, ["lines.abc", "nothing.abc"]) == ids


def test_an_empty_shelf_reads_no_lines(database: Database) -> None:
    """So that adding is as quick as without a shelf."""
    ids = store_lines(database, [walking_line(1)])
    read: list[str] = []
    sa.event.listen(database._engine, "before_cursor_execute", lambda _c, _u, sql, *_rest: read.append(sql))
    with database.reading() as connection:
        assert places_in(connection, load_shelf(connection), ids) == {}
    assert not any("reading" in sql or "line " in sql for sql in read)


def test_an_upgrade_from_the_schema_before_keeps_all_data_and_makes_room_for_the_shelf(tmp_path: Path) -> None:
    """A database made by the migrations up to 0003, with lines in it."""
    url = f"sqlite:///{tmp_path / 'old.db'}"
    old = Database(url)
    config = Config()
    config.set_main_option("script_location", "db:migrations")
    with old.writing() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0003")
    line = walking_line(3)
    with old.writing() as connection:
        prepared = prepare(line)
        connection.exec_driver_sql(
            "INSERT INTO source (id, name, content_hash, part, byte_count, added_at, chart, refused) "
            "VALUES (1, 'a.abc', 'x', '', 1, '2024-01-01 00:00:00', '', '[]')"
        )
        columns = {**prepared.columns, "id": 7, "source_id": 1, "position": 0, "collection": "", "edited": "{}"}
        named = ", ".join(f'"{name}"' for name in columns)
        marks = ", ".join(f":{name}" for name in columns)
        connection.execute(sa.text(f"INSERT INTO transcription ({named}) VALUES ({marks})"), columns)
        connection.execute(
            sa.text("INSERT INTO line VALUES (7, :notes, :layout)"),
            {"notes": prepared.notes, "layout": prepared.layout},
        )
        readings = {"transcription_id": 7, **prepared.readings}
        named = ", ".join(f'"{name}"' for name in readings)
        marks = ", ".join(f":{name}" for name in readings)
        connection.execute(sa.text(f"INSERT INTO reading ({named}) VALUES ({marks})"), readings)
    assert old.schema() == "0003"
    old.close()
    database = open_database(url)
    assert database.schema() == SCHEMA
    figure = replace(from_passage("Turn", line, 0, 4, 7), practice=(Practice(date(2024, 1, 2), 90.0, ("C",), 4),))
    put(database, figure)
    assert shelf_of(database) == [figure]
    with database.reading() as connection:
        assert live_sources(connection, figure)[0].state == "live"
        assert count_places(connection, figure) >= 1
    assert is_sound(database)
    database.close()
