"""Databases of every schema there has been, as the code of its time made them, come to the newest with all they hold.

``schemas/README.md`` tells how the files were made. What they must hold is written down here by hand, from the
commands that filled them.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from corpus.errors import CorpusError
from corpus.match.figure import Folds, figure_from_notes
from corpus.recur.settings import DiscoverySettings
from db.catalogue import Selection, entries, load_entries
from db.connection import Database
from db.examine import examine
from db.opening import SCHEMA, open_database
from db.recur import RecurQuestion, recur
from db.safekeeping import restore
from db.search import Question, search
from db.shelf import live_sources, load_shelf
from db.store import remove
from db.undo import last_step, undo
from tests.db.helpers import is_sound

SCHEMAS = sorted(path.stem for path in (Path(__file__).parent / "schemas").glob("*.sql"))
WITH_SHELF = [schema for schema in SCHEMAS if schema >= "0005"]
NOTES = {
    # By hand, from the text of the tunes.
    1: "Bb1 D2 Eb2 E2 F2 A1 C2 Eb2 D2 F2 Ab2 G2 Gb2 F2 Eb2 D2 Bb2 D3 Eb3 E3 F3 C3 A2 F2 Bb1 Bb1 D2 D2 Eb2 Eb2 E2 E2 F2",
    2: "D4 F4 G4 G#4 A4 C5 D5",
    3: "Eb2 G2 Ab2 A2 Bb2 D2 F2 A2 G2 Bb2 Db3 C3 Cb3 Bb2 Ab2 G2 F2 F2 Ab2 C3 Bb2",
}


def made_from(schema: str, path: Path) -> Path:
    """A database of a schema in a file, from its dump."""
    dump = Path(__file__).parent / "schemas" / f"{schema}.sql"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(dump.read_text(encoding="utf-8"))
        [(found,)] = connection.execute("SELECT version_num FROM alembic_version").fetchall()
    assert found == schema
    return path


@pytest.fixture(scope="module", params=SCHEMAS)
def upgraded(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[str, Database]]:
    """A database of each schema, opened by today's code."""
    path = made_from(request.param, tmp_path_factory.mktemp("upgrade") / "old.db")
    with closing(open_database(f"sqlite:///{path}")) as database:
        yield request.param, database


def test_there_is_a_database_of_every_schema() -> None:
    """One of each migration but the newest: a new migration needs a dump of what was before it."""
    versions = Path(__file__).parents[2] / "db" / "migrations" / "versions"
    migrations = sorted(path.name[1:5] for path in versions.glob("v0*.py"))
    assert migrations[-1] == SCHEMA
    assert set(migrations[:-1]) == set(SCHEMAS)


def test_all_lines_come_with_their_details(upgraded: tuple[str, Database]) -> None:
    """Titles, what was edited by hand, notes as written in the tunes, collections, sources."""
    _, database = upgraded
    assert database.schema() == SCHEMA
    with database.reading() as connection:
        found, total = entries(connection, Selection())
        lines = dict(load_entries(connection, [1, 2, 3]))
    assert total == 3
    facts = [(e.id, e.details.title, e.details.player, e.details.year, str(e.details.key), e.collection) for e in found]
    assert facts == [
        (1, "Harbour Steps", "Orlo Quist the younger", 1995, "Bb major", "practice room"),
        (2, "Paper Boats", "Tamsin Vey", None, "F major", "practice room"),
        (3, "Attic Window", "Tamsin Vey", None, "Eb major", ""),
    ]
    assert [entry.source for entry in found] == ["/music/study.abc", "/music/study.abc", "/music/one_more.abc"]
    spelled = {identity: " ".join(n.spelling for n in line.notes) for identity, (_, line) in lines.items()}
    assert spelled == NOTES
    assert [(e.details.tempo_bpm, str(e.details.meter)) for e in found] == [(160, "4/4"), (120, "3/4"), (140, "4/4")]


def test_they_are_searched_like_new_ones(upgraded: tuple[str, Database]) -> None:
    """By notes in any key and octave, and by the functions under them; no trouble is found by the doctor."""
    _, database = upgraded
    figure = figure_from_notes("Bb1 D2 Eb2 E2")
    with database.reading() as connection:
        exact = search(connection, Question(figure, Folds.parse("octaves")))
        doubled = search(connection, Question(figure, Folds.parse("octaves,doubles")))
        functions = connection.exec_driver_sql(
            "SELECT functions FROM harmony WHERE transcription_id = 3 AND level = 0"
        ).scalar_one()
        silences = connection.exec_driver_sql("SELECT count(*) FROM harmony").scalar_one()
    assert [(hit.entry.id, hit.occurrence.first) for hit in exact.hits] == [(1, 0), (1, 16), (3, 0)]
    assert [(hit.entry.id, hit.occurrence.first) for hit in doubled.hits] == [(1, 0), (1, 16), (1, 24), (3, 0)]
    assert functions
    assert silences
    assert is_sound(database)
    assert [t.words for t in examine(database).troubles if t.is_wrong] == []


@pytest.mark.parametrize("schema", WITH_SHELF)
def test_shelf_and_practice_log_come_along(schema: str, tmp_path: Path) -> None:
    """Both figures, with tags, rating, words, chords, links that still lead to their line, and two days of practice."""
    url = f"sqlite:///{made_from(schema, tmp_path / 'old.db')}"
    with closing(open_database(url)) as database, database.reading() as connection:
        climb, typed = load_shelf(connection)
        [source] = live_sources(connection, climb)
    assert (climb.name, climb.tags, climb.rating, climb.comment) == ("Climb", ("warm-up",), 4, "from the old book")
    assert " ".join(climb.spellings) == "Bb1 D2 Eb2 E2 F2"
    assert [(str(e.day), e.bpm, e.keys, e.grade) for e in climb.practice] == [
        ("2024-03-09", 96.0, ("C", "F"), 4),
        ("2024-03-11", 104.0, (), None),
    ]
    assert source.state == "live"
    assert (typed.name, " ".join(typed.spellings), typed.key) == ("Typed", "Bb2 D3 Eb3 E3", "Bb")


def test_kept_families_are_read_or_found_anew(upgraded: tuple[str, Database]) -> None:
    """One figure comes back in the two tunes of a walking bass, whichever code kept it."""
    _, database = upgraded
    found = recur(database, RecurQuestion(settings=DiscoverySettings(limit=5)))
    assert {place.transcription for place in found.families[0].places} == {1, 3}


@pytest.mark.parametrize("schema", SCHEMAS)
def test_an_upgraded_database_is_worked_on_as_any_other(schema: str, tmp_path: Path) -> None:
    """Lines go and come back by undo; what was done before the upgrade is not in the history."""
    with closing(open_database(f"sqlite:///{made_from(schema, tmp_path / 'old.db')}")) as database:
        with database.reading() as connection:
            assert last_step(connection) is None
        remove(database, [1, 2])
        with database.reading() as connection:
            step = last_step(connection)
        assert step is not None
        undo(database, step)
        with database.reading() as connection:
            assert entries(connection, Selection())[1] == 3
        assert is_sound(database)


@pytest.mark.parametrize("schema", [SCHEMAS[0], SCHEMAS[-1]])
def test_an_old_backup_is_restored_and_stays_as_it_is(schema: str, tmp_path: Path) -> None:
    """The restored database has the newest schema; the backup keeps its own."""
    old = made_from(schema, tmp_path / "old.db")
    before = old.read_bytes()
    restored = restore(old, f"sqlite:///{tmp_path / 'new.db'}")
    assert restored.holdings.transcriptions == 3
    assert restored.holdings.notes == sum(len(notes.split()) for notes in NOTES.values())
    assert old.read_bytes() == before


def test_an_upgrade_that_fails_leaves_the_old_database(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tables and lines are derived in one transaction: nothing of it stays when a line cannot be."""
    path = made_from("0001", tmp_path / "old.db")

    def dump() -> list[str]:
        with closing(sqlite3.connect(path)) as connection:
            return list(connection.iterdump())

    def fail(*_: Any) -> None:
        raise RuntimeError("in the middle")

    before = dump()
    with monkeypatch.context() as patch:
        patch.setattr("db.store.store_derived", fail)
        with pytest.raises(RuntimeError, match="in the middle"):
            open_database(f"sqlite:///{path}")
    assert dump() == before
    open_database(f"sqlite:///{path}").close()


def test_an_early_state_of_the_last_schema_gets_its_shelf(tmp_path: Path) -> None:
    """For ten minutes of its history the code of 0006 made no shelf: the tables come with the upgrade."""
    path = made_from("0006", tmp_path / "old.db")
    with closing(sqlite3.connect(path)) as connection:
        for table in ("practice", "shelf_source", "shelf_figure"):
            connection.execute(f"DROP TABLE {table}")
        connection.commit()
    with closing(open_database(f"sqlite:///{path}")) as database:
        with database.reading() as connection:
            assert load_shelf(connection) == []
        assert [t.words for t in examine(database).troubles if t.is_wrong] == []


def test_going_back_is_refused_in_words(tmp_path: Path) -> None:
    """Neither a newer schema nor one of an unknown number is touched, by any way in; no migration goes down."""
    path = made_from(SCHEMAS[-1], tmp_path / "new.db")
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0999'")
        connection.commit()
    before = path.read_bytes()
    for action in (
        lambda: open_database(f"sqlite:///{path}"),
        lambda: open_database(f"sqlite:///{path}", create=True),
        lambda: restore(path, f"sqlite:///{tmp_path / 'target.db'}"),
    ):
        with pytest.raises(CorpusError, match=r"0999, made by a newer wellworn.*install the newer one"):
            action()
    assert path.read_bytes() == before
    assert not (tmp_path / "target.db").exists()
