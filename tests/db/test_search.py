"""Search through the database: the oracle over every way of asking and fold, filters, limits, and the SQL itself."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

import pytest
import sqlalchemy as sa
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from corpus.match.figure import Folds, figure_from_contour, figure_from_intervals, figure_from_notes
from corpus.match.pattern import pattern_of
from corpus.model import Section, Transcription
from db.catalogue import Selection
from db.connection import Database
from db.opening import open_database
from db.search import Question, candidates, search
from tests.corpus.match.test_exact import FOLDS, figures
from tests.databases import Databases, examples
from tests.db.helpers import store_lines
from tests.generators.lines import walking_line
from tests.generators.oracle import brute_force
from tests.generators.small import line_from

LINES = [walking_line(seed, bars=8) for seed in range(25)] + [
    line_from("C3 C3 D3 D3 E3 E3 C4 C2 x D3 E3 C4 r5 C3 D3 E3", "1 1/2 1/3"),
    line_from("C2 D5 C2 D5 E1 F3"),
    line_from("C3 D3 C3 D3 C3 D3 C3"),
]


@pytest.fixture(scope="module")
def stored(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """A database with generated lines; their IDs are 1, 2, 3 …"""
    database = open_database(databases.new(tmp_path_factory.mktemp("search") / "lines.db"), create=True)
    assert store_lines(database, LINES) == list(range(1, len(LINES) + 1))
    yield database
    database.close()


def found(database: Database, question: Question, limit: int | None = None) -> list[tuple[int, int, int]]:
    """Transcription, first and last note of every hit."""
    with database.reading() as connection:
        answer = search(connection, question, limit)
    return [(hit.entry.id, hit.occurrence.first, hit.occurrence.last) for hit in answer.hits]


@settings(max_examples=examples(150), deadline=None)
@given(st.data(), FOLDS, st.sampled_from(("any", "stretched", "same")))
def test_database_search_equals_brute_force(
    stored: Database, data: st.DataObject, folds: Folds, rhythm: Literal["any", "stretched", "same"]
) -> None:
    """Index, scan and verification together find exactly what trying every stretch of every line finds."""
    figure = data.draw(figures(data.draw(st.sampled_from(LINES))))
    assume(figure.contour is None or not folds.octaves)
    rhythm = rhythm if figure.onsets is not None else "any"
    if folds.doubles:
        assume(len(figure.without_doubles()) >= 2)
    expected = [
        (identity, first, last)
        for identity, line in enumerate(LINES, start=1)
        for first, last in sorted(brute_force(line, figure, folds, rhythm))
    ]
    question = Question(figure, folds, rhythm)
    assert found(stored, question) == expected
    with stored.reading() as connection:
        limited = search(connection, question, limit=2)
    assert limited.total == len(expected)
    assert len(limited.hits) == min(2, len(expected))


def test_long_figures_use_the_index_and_short_ones_scan(stored: Database) -> None:
    """Three symbols make a trigram; two do not. The database's own plan is asked, not guessed."""
    for text, uses_index in (("+2 +2 -1", True), ("+2 +2", False)):
        question = Question(figure_from_intervals(text))
        query = candidates(question, pattern_of(question.figure, question.folds), stored.dialect)
        with stored.reading() as connection:
            if stored.is_on_server:
                # Few lines are scanned faster: the question is whether the index could be used.
                connection.exec_driver_sql("SET LOCAL enable_seqscan = off")
                connection.exec_driver_sql("SET LOCAL enable_indexscan = off")
            explain = "EXPLAIN" if stored.is_on_server else "EXPLAIN QUERY PLAN"
            plan = " ".join(str(row) for row in connection.execute(sa.text(f"{explain} {query.sql}"), query.values))
        assert ("Bitmap Index Scan on folded_index" in plan or "VIRTUAL TABLE INDEX" in plan) is uses_index


def test_filters_narrow_the_search(stored: Database, database: Database) -> None:
    """Player, tune, tempo, year and section, without regard to case, names beyond ASCII included."""
    base = line_from("C3 D3 E3 F3 C3 D3 E3 F3")
    bar = base.bars[1].onset_ticks
    sections = (Section("A", 0, bar), Section("Bridge", bar, base.end_ticks))
    named: list[Transcription] = [
        replace(base, details=replace(base.details, title=title, player=player, tempo_bpm=tempo, year=year))
        for title, player, tempo, year in (
            ("Harbour Steps", "Åsa Lindqvärn", 120.0, 1990),
            ("Paper Boats", "Orlo Quist", 180.0, 2001),
        )
    ]
    store_lines(database, [replace(line, sections=sections) for line in named])
    figure = figure_from_notes("C3 D3 E3 F3")

    def ids(selection: Selection) -> list[tuple[int, int, int]]:
        return found(database, Question(figure, selection=selection))

    assert ids(Selection(player="åsa LIND")) == [(1, 0, 3), (1, 4, 7)]
    assert ids(Selection(tune="paper")) == [(2, 0, 3), (2, 4, 7)]
    assert ids(Selection(tempo=(150.0, None))) == [(2, 0, 3), (2, 4, 7)]
    assert ids(Selection(tempo=(None, 150.0), section="bridge")) == [(1, 4, 7)]
    assert ids(Selection(year=(1990, 1990))) == [(1, 0, 3), (1, 4, 7)]
    assert ids(Selection(ids=(2,), section="A")) == [(2, 0, 3)]
    assert ids(Selection(player="%")) == []
    assert ids(Selection(player="' OR 1=1 --")) == []


def test_a_contour_is_found_by_scanning(stored: Database) -> None:
    """Contours have no index and are found all the same."""
    question = Question(figure_from_contour("*uuuud"))
    expected = sum(len(brute_force(line, question.figure, Folds())) for line in LINES)
    assert len(found(stored, question)) == expected > 0
