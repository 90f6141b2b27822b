"""Storing: one transaction a file, no-ops, replacement, editing, removal, and what the indexes hold after it."""

from dataclasses import replace

import pytest

from corpus.errors import CorpusError, QueryError
from corpus.match.figure import figure_from_notes
from db.catalogue import Selection, entries, load
from db.connection import Database
from db.search import Question, search
from db.store import add_source, edit, known, prepare, remove
from tests.db.helpers import is_sound, scalar, source, store_lines
from tests.generators.small import line_from

TWO = [line_from("C3 D3 E3 F3"), line_from("Bb2 D3 Eb3 E3")]


def hits(database: Database, notes: str) -> int:
    """How often a figure is found."""
    with database.reading() as connection:
        return search(connection, Question(figure_from_notes(notes))).total


def test_a_stored_line_is_the_line_that_was_read(database: Database) -> None:
    """What load gives back equals what was stored."""
    ids = store_lines(database, TWO)
    with database.reading() as connection:
        assert [load(connection, identity)[1] for identity in ids] == TWO


def test_the_same_content_is_known_and_refused_under_any_name(database: Database) -> None:
    """The hash decides, and nothing is stored twice."""
    store_lines(database, TWO)
    same = replace(source("lines.abc"), name="copy.abc")
    with database.reading() as connection:
        assert known(connection, same).state == "same"
    with pytest.raises(CorpusError, match="there already"):
        add_source(database, same, [prepare(TWO[0])], "")
    assert scalar(database, "SELECT count(*) FROM transcription") == 2


def test_a_changed_file_replaces_only_when_told_and_keeps_ids_and_edits(database: Database) -> None:
    """Line for line the IDs stay; what was edited by hand stays; the index forgets the old notes."""
    ids = store_lines(database, TWO)
    edit(database, [ids[1]], {"player": "Orlo Quist"})
    changed = source("lines.abc", "second state")
    new = [prepare(line) for line in (TWO[0], line_from("G3 A3 B3 D4"), line_from("C4 A3 F3 D3"))]
    with pytest.raises(CorpusError, match="--replace"):
        add_source(database, changed, new, "")
    assert hits(database, "Bb2 D3 Eb3 E3") == 1
    assert add_source(database, changed, new, "", replace_older=True) == [*ids, ids[1] + 1]
    assert hits(database, "Bb2 D3 Eb3 E3") == 0
    assert hits(database, "G3 A3 B3 D4") == 1
    with database.reading() as connection:
        assert load(connection, ids[1])[0].details.player == "Orlo Quist"
    assert is_sound(database)


def test_removing_takes_lines_out_of_every_table_and_index(database: Database) -> None:
    """Nothing of a removed line is left, and its empty source goes too."""
    ids = store_lines(database, TWO)
    assert remove(database, [ids[0], ids[0]]) == 1
    assert scalar(database, "SELECT count(*) FROM source") == 1
    assert remove(database, [ids[1]]) == 1
    for table in ("source", "transcription", "line", "reading"):
        assert scalar(database, f"SELECT count(*) FROM {table}") == 0
    assert is_sound(database)


def test_removing_an_unknown_id_changes_nothing(database: Database) -> None:
    """All or nothing."""
    ids = store_lines(database, TWO)
    with pytest.raises(CorpusError, match="no transcription 99"):
        remove(database, [ids[0], 99])
    assert scalar(database, "SELECT count(*) FROM transcription") == 2


def test_a_failure_in_the_middle_of_a_file_stores_nothing(database: Database) -> None:
    """One transaction a file: a line that cannot be stored takes the whole file back."""
    good = prepare(TWO[0])
    bad = replace(good, columns={**good.columns, "title": None})
    with pytest.raises(Exception, match="NOT NULL"):
        add_source(database, source("bad.abc"), [good, bad], "")
    for table in ("source", "transcription", "line", "reading"):
        assert scalar(database, f"SELECT count(*) FROM {table}") == 0


def test_editing_key_and_form_changes_degrees_choruses_and_sections(database: Database) -> None:
    """A key gives degrees; a form numbers choruses and names sections; emptying takes the key away."""
    identity = store_lines(database, [line_from("Bb2 C3 D3 Eb3 F3 G3 A3 Bb3")])[0]
    edit(database, [identity], {"key": "Bb", "form": "A1"})
    with database.reading() as connection:
        entry, line = load(connection, identity)
        degrees = connection.exec_driver_sql("SELECT degree FROM reading").scalar_one()
    assert (str(entry.details.key), str(entry.details.form)) == ("Bb major", "A1")
    assert degrees == "acefhjla"
    assert [bar.chorus for bar in line.bars] == [1, 2]
    assert [section.label for section in line.sections] == ["A", "A"]
    edit(database, [identity], {"key": ""})
    with database.reading() as connection:
        assert load(connection, identity)[0].details.key is None


@pytest.mark.parametrize("changes", [{"key": "H major"}, {"form": "A0"}, {"notes": "C3"}])
def test_editing_to_nonsense_changes_nothing(database: Database, changes: dict[str, str]) -> None:
    """Bad keys, forms and names are refused before anything is written."""
    identity = store_lines(database, TWO)[0]
    with pytest.raises(QueryError):
        edit(database, [identity], changes)
    with database.reading() as connection:
        assert load(connection, identity)[1] == TWO[0]


def test_a_list_can_be_filtered_and_cut(database: Database) -> None:
    """The total counts what a limit leaves out."""
    store_lines(database, TWO)
    with database.reading() as connection:
        found, total = entries(connection, Selection(), limit=1)
        none, nothing = entries(connection, Selection(player="nobody"))
    assert (len(found), total, none, nothing) == (1, 2, [], 0)
