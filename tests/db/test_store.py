"""Storing: one transaction a file, no-ops, replacement, editing, removal, and what the indexes hold after it."""

from dataclasses import replace

import pytest

from corpus.errors import CorpusError, QueryError
from corpus.form import parse_form
from corpus.match.figure import figure_from_notes
from corpus.model import Section
from corpus.rework import with_form
from db.catalogue import Selection, entries, load
from db.connection import Database
from db.editing import edit
from db.search import Question, search
from db.store import add_source, known, prepare, remove
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
    with pytest.raises(CorpusError, match="already there"):
        add_source(database, same, [prepare(TWO[0])], "")
    assert scalar(database, "SELECT count(*) FROM transcription") == 2


def test_a_changed_file_replaces_only_when_told_and_keeps_ids_and_edits(database: Database) -> None:
    """By title and notes, not by position: IDs and edits stay with their tune; the index forgets the old notes."""
    titled = {"One": "C3 D3 E3 F3", "Two": "Bb2 D3 Eb3 E3", "Three": "C3 A2 F2 D2"}
    one, two, three = (line_from(notes, title=title) for title, notes in titled.items())
    ids = store_lines(database, [one, two, three])
    edit(database, [ids[1]], {"player": "Orlo Quist", "title": "My Two"})
    edit(database, [ids[2]], {"year": 1999})
    zero = replace(one, details=replace(one.details, title="Zero"), notes=line_from("A3 A2 A3 A2").notes)
    mended = replace(two, notes=line_from("G3 A3 B3 D4").notes)
    changed, new = source("lines.abc", "second state"), [prepare(line) for line in (zero, one, mended)]
    with pytest.raises(CorpusError, match="--replace"):
        add_source(database, changed, new, "")
    assert hits(database, "Bb2 D3 Eb3 E3") == 1
    stored = add_source(database, changed, new, "", replace_older=True)
    assert stored.ids == (ids[2] + 1, ids[0], ids[1])
    assert [(line.id, line.details["title"]) for line in stored.gone] == [(ids[2], "Three")]
    assert hits(database, "Bb2 D3 Eb3 E3") == 0
    assert hits(database, "G3 A3 B3 D4") == 1
    with database.reading() as connection:
        details = load(connection, ids[1])[0].details
    assert (details.player, details.title) == ("Orlo Quist", "My Two")
    assert is_sound(database)


def test_what_a_new_state_does_not_say_stays_known(database: Database) -> None:
    """Player and form given when the file was added stay when it is replaced, with the choruses they make."""
    line = replace(line_from("C3 D3 E3 F3 G3 A3 B3 C4"), sections=())
    given = with_form(replace(line, details=replace(line.details, player="Tamsin Vey")), parse_form("A1"))
    ids = store_lines(database, [given])
    add_source(database, source("lines.abc", "again"), [prepare(line)], "", replace_older=True)
    with database.reading() as connection:
        entry, kept = load(connection, ids[0])
    assert (entry.details.player, str(entry.details.form)) == ("Tamsin Vey", "A1")
    assert [bar.chorus for bar in kept.bars] == [1, 2]
    assert [section.label for section in kept.sections] == ["A", "A"]


def test_a_form_given_by_hand_leaves_the_files_own_sections(database: Database) -> None:
    """Marks of the file stay through every edit; sections that came from a form go with it."""
    line = line_from("C3 D3 E3 F3 G3 A3 B3 C4")
    marked = replace(line, sections=(Section("Verse", 0, line.end_ticks),))
    ids = store_lines(database, [marked, replace(line, sections=())])
    for form in ("C1 D1", ""):
        edit(database, ids, {"form": form})
        with database.reading() as connection:
            labels = [[s.label for s in load(connection, identity)[1].sections] for identity in ids]
        assert labels == [["Verse"], ["C", "D"] if form else []]


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
    with pytest.raises(Exception, match=r"(?i)not.null"):
        add_source(database, source("bad.abc"), [good, bad], "")
    for table in ("source", "transcription", "line", "reading"):
        assert scalar(database, f"SELECT count(*) FROM {table}") == 0


def test_editing_key_and_form_changes_degrees_choruses_and_sections(database: Database) -> None:
    """A key gives degrees; a form numbers choruses and names sections; emptying takes the key away."""
    identity = store_lines(database, [replace(line_from("Bb2 C3 D3 Eb3 F3 G3 A3 Bb3"), sections=())])[0]
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
