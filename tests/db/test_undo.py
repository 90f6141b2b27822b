"""Undo: every change of corpus and shelf is taken back row for row, and nothing is undone that cannot be."""

from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from datetime import date

import pytest

from corpus.errors import CorpusError
from corpus.match.figure import figure_from_intervals
from corpus.shelf.keeping import from_typed
from corpus.shelf.kept import KeptFigure, KeptSource, Practice
from db import history
from db.connection import Database
from db.editing import edit
from db.examine import examine
from db.history import Content, Deed, record
from db.opening import open_database
from db.shelf import change_shelf
from db.store import SourceFile, add_source, prepare, remove
from db.undo import last_step, steps, undo
from tests.databases import Databases
from tests.db.helpers import scalar, source, store_lines
from tests.generators.lines import walking_line

KEPT = ("source", "transcription", "line", "reading", "harmony", "shelf_figure", "shelf_source", "practice")


def rows(database: Database) -> dict[str, list[str]]:
    """Every row of corpus and shelf as plain SQL gives it."""
    with database.reading() as connection:
        return {
            table: sorted(repr(tuple(row)) for row in connection.exec_driver_sql(f"SELECT * FROM {table}"))
            for table in KEPT
        }


def figure(name: str, line: int | None = None) -> KeptFigure:
    """A kept figure, perhaps from a stored line."""
    kept = from_typed(name, figure_from_intervals("2 1 2"), ())
    if line is None:
        return kept
    return replace(kept, sources=(KeptSource("Tune", "Player", "bars 1-2", ("C2", "D2"), line, 0, 1),))


def undo_last(database: Database) -> None:
    """Undo what is undone next."""
    with database.reading() as connection:
        step = last_step(connection)
    assert step is not None
    undo(database, step)


def replace_file(database: Database, seeds: list[int], name: str = "lines.abc") -> None:
    """Another state of a file: other lines in the place of those that are there."""
    state = SourceFile(name, f"{seeds}".rjust(64, "0"), "", 10)
    add_source(database, state, [prepare(walking_line(seed, 4)) for seed in seeds], "spring", replace_older=True)


def rename(shelf: list[KeptFigure], old: str, new: str) -> list[KeptFigure]:
    """A shelf on which a figure bears another name."""
    return [replace(one, name=new) if one.name == old else one for one in shelf]


def practise(shelf: list[KeptFigure]) -> list[KeptFigure]:
    """A shelf whose figures have all been practised once more."""
    return [replace(one, practice=(*one.practice, Practice(date(2024, 3, 9), 96.0, ("C",), 4))) for one in shelf]


CHANGES: dict[str, Callable[[Database], object]] = {
    "add": lambda d: store_lines(d, [walking_line(seed, 4) for seed in (7, 8)], "more.abc"),
    "remove one": lambda d: remove(d, [2]),
    "remove a whole file": lambda d: remove(d, [1, 2, 3]),
    "edit": lambda d: edit(d, [1, 3], {"player": "Tamsin Vey", "year": 1994}),
    "edit key": lambda d: edit(d, [1], {"key": "D minor", "title": "Another"}),
    "edit form": lambda d: edit(d, [2], {"form": "A4"}),
    "replace by the same lines and more": lambda d: replace_file(d, [0, 1, 2, 5]),
    "replace by fewer": lambda d: replace_file(d, [1]),
    "replace by others": lambda d: replace_file(d, [11, 12, 13, 14]),
    "shelf add": lambda d: change_shelf(d, lambda shelf: [*shelf, figure("Third", 3)]),
    "shelf rename": lambda d: change_shelf(d, lambda shelf: rename(list(shelf), "First", "Other")),
    "shelf remove all": lambda d: change_shelf(d, lambda shelf: []),
    "practice": lambda d: change_shelf(d, lambda shelf: practise(list(shelf))),
}


@pytest.fixture(scope="session")
def _made_once(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Three lines of one file, and two kept figures that come from them; one has been practised."""
    url = databases.new(tmp_path_factory.mktemp("undo") / "lines.db")
    with closing(open_database(url, create=True)) as database:
        store_lines(database, [walking_line(seed, 4) for seed in range(3)])
        change_shelf(database, lambda shelf: practise([figure("First", 1)]))
        change_shelf(database, lambda shelf: [*shelf, figure("Second", 2)])
    return url


@pytest.fixture
def filled(databases: Databases, new_url: str, _made_once: str) -> Iterator[Database]:
    """A copy of that database."""
    databases.copy(_made_once, new_url)
    opened = open_database(new_url)
    yield opened
    opened.close()


@pytest.mark.parametrize("name", CHANGES)
def test_a_change_is_taken_back_row_for_row(filled: Database, name: str) -> None:
    """Notes, readings, functions, links and practice are those from before, and the indexes agree."""
    before = rows(filled)
    CHANGES[name](filled)
    assert rows(filled) != before
    undo_last(filled)
    assert rows(filled) == before
    assert examine(filled).is_well


def test_undoing_again_goes_further_back(filled: Database) -> None:
    """Many changes in a row, then as many undos: each state is met again on the way, down to the first."""
    states = [rows(filled)]
    order = ["edit key", "add", "practice", "replace by fewer", "shelf rename", "edit", "shelf add"]
    for name in order:
        if name == "edit":
            edit(filled, [2], {"player": "Orlo Quist"})
        else:
            CHANGES[name](filled)
        states.append(rows(filled))
    with filled.reading() as connection:
        assert len(steps(connection)) == len(order) + 3
    for state in reversed(states[:-1]):
        undo_last(filled)
        assert rows(filled) == state
    for _ in range(3):
        undo_last(filled)
    assert not any(rows(filled).values())
    with filled.reading() as connection:
        assert last_step(connection) is None


def test_the_files_of_one_command_are_undone_together(database: Database) -> None:
    """An ``add`` of several files is one deed; what another process added meanwhile stays."""
    ours, theirs = Deed("add"), Deed("add")
    for number, deed in enumerate((ours, theirs, ours)):
        line = prepare(walking_line(number, 4))
        add_source(database, source(f"{number}.abc"), [line], "", deed=deed)
    undo_last(database)
    assert scalar(database, "SELECT id FROM transcription") == 2
    undo_last(database)
    assert scalar(database, "SELECT count(*) FROM transcription") == 0


def test_tangled_commands_are_not_undone(database: Database) -> None:
    """Another command changed a line of ours while we were still adding: undoing would take its work away."""
    ours = Deed("add")
    add_source(database, source("0.abc"), [prepare(walking_line(0, 4))], "", deed=ours)
    edit(database, [1], {"player": "Orlo Quist"})
    add_source(database, source("1.abc"), [prepare(walking_line(1, 4))], "", deed=ours)
    before = rows(database)
    with pytest.raises(CorpusError, match="'edit' of another process changed the same"):
        undo_last(database)
    assert rows(database) == before


def test_what_was_shown_is_what_is_undone(filled: Database) -> None:
    """A step that is no longer the last one is refused."""
    with filled.reading() as connection:
        shown = last_step(connection)
    assert shown is not None
    edit(filled, [1], {"player": "Orlo Quist"})
    before = rows(filled)
    with pytest.raises(CorpusError, match="changed meanwhile"):
        undo(filled, shown)
    assert rows(filled) == before


def test_a_hand_from_outside_is_noticed(filled: Database) -> None:
    """A line put under a freed ID behind the history's back: nothing is undone."""
    remove(filled, [3])
    table = history.TABLES["transcription"]
    with filled.writing() as connection:
        [row] = history.rows_of(connection, table, table.c.id, [2])
        connection.execute(table.insert().values({**row, "id": 3, "position": 9}))
    before = rows(filled)
    with pytest.raises(CorpusError, match="knows nothing of"):
        undo_last(filled)
    assert rows(filled) == before


def test_the_history_stays_small(filled: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """At most so many commands, and so many bytes of them; the newest stay."""
    monkeypatch.setattr(history, "MOST_COMMANDS", 4)
    for year in range(1990, 1996):
        edit(filled, [1], {"year": year})
    with filled.reading() as connection:
        assert [step.command for step in steps(connection)] == ["edit"] * 4
    monkeypatch.setattr(history, "MOST_BYTES", 700)
    monkeypatch.setattr(history, "_WORTH_COUNTING_BYTES", 100)
    edit(filled, [1], {"year": 2000})
    with filled.reading() as connection:
        assert 1 <= len(steps(connection)) < 4
    assert scalar(filled, "SELECT sum(length(content)) FROM history") <= 700


def test_a_change_too_large_to_keep_is_told_as_such(filled: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its words stay, it is not undone, and neither is what was before it."""
    monkeypatch.setattr(history, "MOST_BYTES", 100)
    remove(filled, [1, 2])
    before = rows(filled)
    with filled.reading() as connection:
        [step] = steps(connection)
    assert step.effect is None
    with pytest.raises(CorpusError, match="cannot be undone, nor what was before it"):
        undo_last(filled)
    assert rows(filled) == before


def test_contents_come_back_as_they_were_packed(filled: Database) -> None:
    """Bytes, days, moments and empty values survive the history's JSON."""
    with filled.reading() as connection:
        content = history.whole_sources(connection, [1])
        figures = history.rows_of(connection, history.TABLES["practice"], history.TABLES["practice"].c.figure_id, [1])
        assert history.unpack(history.pack(content)).gone == content.gone
        assert history.unpack(history.pack(Content(were={"practice": figures}))).were["practice"] == figures
    assert figures[0]["day"] == date(2024, 3, 9)


def test_a_failed_change_leaves_no_history(filled: Database) -> None:
    """What is rolled back is not in it; what changes nothing is not either."""
    with filled.reading() as connection:
        before = [step.code for step in steps(connection)]

    def fail(_shelf: object) -> list[KeptFigure]:
        raise CorpusError("no")

    with pytest.raises(CorpusError, match="no"):
        change_shelf(filled, fail)
    change_shelf(filled, lambda shelf: shelf)

    def roll_back() -> None:
        with filled.writing() as connection:
            record(connection, Deed("edit"), "never", Content())
            raise CorpusError("rolled back")

    with pytest.raises(CorpusError, match="rolled back"):
        roll_back()
    with filled.reading() as connection:
        assert [step.code for step in steps(connection)] == before
