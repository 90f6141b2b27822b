"""The Python interface: the same answers as the commands, and what a notebook shows of them."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pandas
import pytest

from corpus.errors import CorpusError, QueryError
from corpus.match.figure import figure_from_contour
from corpus.model import Details
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from db.api import Corpus, Places, Selection
from db.catalogue import entries
from db.opening import open_database
from db.recur import RecurQuestion, recur
from db.search import Question, search
from tests.corpus.write.seed import SEED
from tests.db.helpers import store_lines


@pytest.fixture(scope="module")
def corpus(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Corpus]:
    """A corpus of three seed lines, one with HTML for a title."""
    place = tmp_path_factory.mktemp("api") / "lines.db"
    database = open_database(f"sqlite:///{place}", create=True)
    pieces = pieces_of((SEED / "walking_lines.abc").read_bytes(), "walking_lines.abc")
    lines = [read_piece(pieces[number], ReadingWishes()) for number in (3, 4, 5)]
    lines[1] = replace(lines[1], details=Details(title="<b>Tune</b>", player="A & B", tempo_bpm=160.0))
    store_lines(database, lines)
    database.close()
    with Corpus(place) as opened:
        yield opened


def test_find_answers_as_the_search_does(corpus: Corpus) -> None:
    """The same places in the same order; a limit shows fewer and counts all; where to look is a Selection."""
    with corpus.database.reading() as connection:
        expected = search(connection, Question(figure_from_contour("*ud")))
    found = corpus.find(contour="*ud")
    assert [place.hit.occurrence for place in found] == [hit.occurrence for hit in expected.hits]
    assert len(found) == found.total > 1
    few = corpus.find(contour="*ud", limit=1)
    assert (len(few), few.total) == (1, found.total)
    there = {place.hit.entry.id for place in corpus.find(contour="*ud", where=Selection(ids=(2,)))}
    assert there <= {2}


def test_find_by_passage_and_in_disguise(corpus: Corpus) -> None:
    """A passage finds itself, exactly and nearly; a bad question is an error of ours."""
    exact = corpus.find(like=(1, "1-2"))
    assert any(place.hit.entry.id == 1 and place.hit.occurrence.first == 0 for place in exact)
    best = corpus.find(like=(1, "1-2"), near=True, limit=2)
    assert best[0].hit.occurrence.likeness == 1
    assert best[0].fields["changes"] == []
    with pytest.raises(QueryError, match="say which figure"):
        corpus.find()
    with pytest.raises(QueryError, match="notes and steps"):
        corpus.find(notes="C D E", steps="+1 +1")
    with pytest.raises(CorpusError, match="no transcription 9"):
        corpus.entries(Selection(ids=(1, 9)))


def test_tables_are_frames(corpus: Corpus) -> None:
    """Notes, lines and families as pandas frames whose columns are those that are described."""
    for table in (corpus.lines(), corpus.notes(Selection(ids=(1,))), corpus.families(), corpus.occurrences()):
        frame = pandas.DataFrame(table.rows)
        assert set(frame.columns) >= {column.name for column in table.columns}
        assert len(frame) == len(table) > 2
    line = corpus.line(1)
    assert list(pandas.DataFrame(corpus.notes(Selection(ids=(1,))).rows)["pitch"]) == [
        note.pitch for note in line.transcription.notes
    ]
    with corpus.database.reading() as connection:
        assert len(corpus.lines()) == entries(connection, Selection())[1]
    assert len(corpus.families()) == len(recur(corpus.database, RecurQuestion(Selection())).families)


def test_what_a_notebook_shows(corpus: Corpus) -> None:
    """Well-formed markup, names escaped, the figure engraved under its bracket, a column's meaning at its head."""
    found = corpus.find(contour="*ud", where=Selection(ids=(2,)))
    assert isinstance(found, Places)
    assert len(found) > 0
    for shown in (found, found[0], corpus.line(2), corpus.notes(Selection(ids=(2,)))):
        html = shown._repr_html_()
        ElementTree.fromstring(f"<div>{html.replace('<br>', '<br/>')}</div>")
        assert "<b>" not in html
    assert "&lt;b&gt;Tune&lt;/b&gt;, A &amp; B" in found[0]._repr_html_()
    assert 'id="mark-0"' in found[0].svg()
    assert 'title="chord symbol in force"' in corpus.notes()._repr_html_()
    assert "more rows" in corpus.notes()._repr_html_()


def test_a_line_in_three_forms(corpus: Corpus) -> None:
    """MusicXML, MIDI and ABC of a line begin as such files do."""
    line = corpus.line(1)
    assert line.musicxml().startswith("<?xml")
    assert line.midi()[:4] == b"MThd"
    assert line.abc().startswith("%abc-2.1")


def test_a_database_that_is_not_there_is_told(tmp_path: Path) -> None:
    """No empty database is made by asking."""
    with pytest.raises(CorpusError):
        Corpus(tmp_path / "none.db")
    assert not (tmp_path / "none.db").exists()
