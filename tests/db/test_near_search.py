"""Near search over a database against trying every note of every line, on every path and way of asking."""

import random
from collections.abc import Iterator, Mapping
from dataclasses import fields
from fractions import Fraction
from types import MappingProxyType

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.match import scan as scanning
from corpus.match.context import Context
from corpus.match.exact import Occurrence, Rhythm
from corpus.match.figure import (
    Figure,
    Folds,
    figure_from_contour,
    figure_from_degrees,
    figure_from_intervals,
    figure_from_notes,
    figure_from_notes_of,
    figure_from_roles,
    figure_from_steps,
)
from corpus.match.forms import FORMS, turned
from corpus.match.near import occurrences_near
from corpus.match.prices import Prices
from corpus.match.sought import sought
from corpus.model import Transcription
from corpus.pitch import Key
from db.catalogue import Selection, load_many
from db.connection import Database
from db.near import NearAnswer, NearLines, NearQuestion, near_sequences, search_near
from db.opening import open_database
from db.search import Question
from tests.databases import Databases, examples
from tests.db.helpers import store_lines
from tests.generators.lines import walking_line
from tests.generators.small import line_from

pytestmark = pytest.mark.no_sql(reason="the scan is in memory; there is test_seed_near for what it reads")

NAMES = [
    "C3",
    "C#3",
    "Db3",
    "D3",
    "Eb3",
    "E3",
    "F3",
    "F#3",
    "G3",
    "A3",
    "Bb3",
    "C4",
    "Eb4",
    "C3",
    "D3",
    "E3",
    "G3",
    "C6",
    "A0",
    "x",
    "r1",
    "r5",
]
PRICE = st.sampled_from((0.0, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0))
PRICES = st.one_of(st.just(Prices()), st.builds(Prices, **{field.name: PRICE for field in fields(Prices)}))
FOLDS = st.builds(Folds, octaves=st.booleans(), doubles=st.booleans(), mode=st.booleans())


def small_lines() -> list[Transcription]:
    """Seeded lines with repeats, wide leaps, dead notes, rests and rhythm, and some that walk."""
    source = random.Random(4)
    made = []
    for number in range(12):
        words = ["C3", *source.choices(NAMES, k=source.randint(1, 24))]
        quarters = " ".join(source.choices(("1", "1", "1/2", "1/3", "2"), k=5))
        key = source.choice((None, Key("C"), Key("Eb")))
        made.append(line_from(" ".join(words), quarters, title=f"Small {number}", key=key))
    return [*made, *(walking_line(seed, bars=4) for seed in range(3))]


@pytest.fixture(scope="module")
def filled(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """The lines in a database."""
    database = open_database(databases.new(tmp_path_factory.mktemp("near") / "near.db"), create=True)
    store_lines(database, small_lines())
    yield database
    database.close()


@pytest.fixture(scope="module")
def stored(filled: Database) -> dict[int, Transcription]:
    """The lines as they come back."""
    with filled.reading() as connection:
        ids = list(connection.exec_driver_sql("SELECT id FROM transcription ORDER BY id").scalars())
        return dict(load_many(connection, ids))


def by_line(answer: NearAnswer) -> dict[int, list[Occurrence]]:
    """Occurrences by line, in the order found."""
    found: dict[int, list[Occurrence]] = {}
    for hit in answer.hits:
        found.setdefault(hit.entry.id, []).append(hit.occurrence)
    return found


def tried(
    stored: dict[int, Transcription],
    question: Question,
    prices: Prices,
    threshold: float,
    symbols: Mapping[int, str] = MappingProxyType({}),
) -> dict[int, list[Occurrence]]:
    """The same by trying every note of every line."""
    asked = sought(question.figure, question.folds, prices)
    found = {
        identity: occurrences_near(asked, line, threshold, question.rhythm, symbols.get(identity))
        for identity, line in stored.items()
    }
    return {identity: occurrences for identity, occurrences in found.items() if occurrences}


@settings(max_examples=examples(12), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), folds=FOLDS, prices=PRICES, threshold=st.sampled_from((0.6, 0.75, 0.85, 1.0)))
def test_scan_and_verification_find_what_trying_everything_finds(
    filled: Database,
    stored: dict[int, Transcription],
    data: st.DataObject,
    folds: Folds,
    prices: Prices,
    threshold: float,
) -> None:
    """Places, prices, changes and their order in each line are the same; over all lines likeness never rises."""
    line = stored[data.draw(st.sampled_from(sorted(stored)))]
    first = data.draw(st.integers(0, len(line.notes) - 1))
    last = min(len(line.notes) - 1, first + data.draw(st.integers(1, 5)))
    passage = line.notes[first : last + 1]
    if any(note.pitch is None for note in passage) or len({note.pitch for note in passage}) < 2:
        return
    rhythms: tuple[Rhythm, ...] = ("any", "same", "stretched")
    rhythm = data.draw(st.sampled_from(rhythms))
    question = Question(figure_from_notes_of(line, first, last), folds, rhythm)
    with filled.reading() as connection:
        answer = search_near(connection, NearQuestion(question, threshold, prices))
    assert answer.is_complete
    assert by_line(answer) == tried(stored, question, prices, threshold)
    likenesses = [hit.occurrence.likeness for hit in answer.hits]
    assert likenesses == sorted(likenesses, reverse=True)


TYPED: list[tuple[Figure, Folds]] = [
    (figure_from_notes("C E G"), Folds()),
    (figure_from_notes("C3 E G3 Eb"), Folds()),
    (figure_from_notes("C3 E3 G3 A3"), Folds(mode=True, octaves=True)),
    (figure_from_intervals("+4 +3 -2"), Folds()),
    (figure_from_intervals("+4 +3 -2"), Folds(mode=True)),
    (figure_from_steps("+2 +1 -1"), Folds()),
    (figure_from_steps("+2 +1 -1 +3"), Folds(octaves=True, doubles=True)),
    (figure_from_contour("*uududd"), Folds()),
    (figure_from_contour("*ururdd"), Folds(doubles=True)),
    (figure_from_degrees("1 3 5 6"), Folds()),
    (figure_from_degrees("5 * 1 b7"), Folds(doubles=True)),
    (figure_from_roles("1 3 5 outside"), Folds()),
    (figure_from_roles("chord scale 5 1"), Folds()),
]


@pytest.mark.parametrize(("figure", "folds"), TYPED, ids=[f"{f.text} {i}" for i, (f, _) in enumerate(TYPED)])
def test_every_way_of_asking_finds_what_trying_everything_finds(
    filled: Database, stored: dict[int, Transcription], figure: Figure, folds: Folds
) -> None:
    """Notes without octaves, intervals, steps, contours, degrees and roles."""
    question = Question(figure, folds)
    with filled.reading() as connection:
        answer = search_near(connection, NearQuestion(question, 0.7))
        texts = symbols_of(connection, figure.reading) if figure.reading else {}
    wanted = tried(stored, question, Prices(), 0.7, texts)
    assert wanted
    assert by_line(answer) == wanted


def test_octaves_that_cost_nothing_are_told_alike_whatever_notes_are_in_reach(database: Database) -> None:
    """The last note a tritone from its place, up or down: far notes beside it do not decide which."""
    line = line_from("C3 G3 E3 E3 F3 C6 A0 C3 F3 E3 F3 G3 Eb3 A3 F3 A3 E3 E3 C6 C#3 Bb3")
    store_lines(database, [line])
    figure = figure_from_notes_of(line_from("Eb3 Eb3 A3 Bb3 Eb3"), 0, 4)
    question = Question(figure, Folds(octaves=True, doubles=True))
    with database.reading() as connection:
        lines = dict(load_many(connection, [1]))
        answer = search_near(connection, NearQuestion(question, 0.75))
    assert by_line(answer) == tried(lines, question, Prices(), 0.75)
    assert (12, 13, 0) in [(h.occurrence.first, h.occurrence.last, h.occurrence.transposed) for h in answer.hits]


@pytest.mark.parametrize("way", ["+", "-"])
@pytest.mark.parametrize("folds", [Folds(), Folds(octaves=True)], ids=["octaves count", "octaves ignored"])
@pytest.mark.sqlite_only(reason="arithmetic of the search, long to try, nothing of it SQL")
def test_figures_wider_than_the_keyboard_are_found_octaves_displaced(
    database: Database, way: str, folds: Folds
) -> None:
    """Sixteen leaps of five octaves, then a third: heights are looked up however far the figure reaches."""
    store_lines(database, [line_from("A2 D2 " + "C3 C5 C2 C4 C6 C3 " * 3 + "E3 G3 C3", title="Leaps")])
    question = Question(figure_from_intervals(f"{way}60 " * 16 + "+4"), folds)
    with database.reading() as connection:
        lines = dict(load_many(connection, [1]))
        answer = search_near(connection, NearQuestion(question, 0.6))
    wanted = tried(lines, question, Prices(), 0.6)
    assert wanted
    assert by_line(answer) == wanted


def symbols_of(connection: sa.Connection, reading: str) -> dict[int, str]:
    """The reading of roles or degrees of every line, as stored."""
    rows = connection.exec_driver_sql(f"SELECT transcription_id, {reading} FROM reading")
    return {row[0]: row[1] for row in rows}


def test_small_blocks_and_several_workers_change_nothing(
    filled: Database, stored: dict[int, Transcription], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wherever the columns are cut, the answer is the same."""
    line = stored[max(stored)]
    asked = NearQuestion(Question(figure_from_notes_of(line, 2, 8)), 0.6)
    with filled.reading() as connection:
        whole = search_near(connection, asked)
        monkeypatch.setattr(scanning, "_BLOCK_CELLS", 12)
        assert by_line(search_near(connection, asked)) == by_line(whole)
        assert whole.hits


@pytest.mark.parametrize("limit", [1, 2, 5, 17])
def test_a_limit_gives_the_beginning_of_the_whole_answer(
    filled: Database, stored: dict[int, Transcription], limit: int
) -> None:
    """Stopping early never changes what is shown."""
    asked = NearQuestion(Question(figure_from_notes_of(stored[max(stored)], 0, 6)), 0.6)
    with filled.reading() as connection:
        whole = [(hit.entry.id, hit.occurrence) for hit in search_near(connection, asked).hits]
        answer = search_near(connection, asked, limit)
        lines = NearLines.of(connection, "pitch", Selection())
        assert search_near(connection, asked, limit, lines).hits == answer.hits
    assert [(hit.entry.id, hit.occurrence) for hit in answer.hits] == whole[:limit]
    assert answer.is_complete == (len(whole) <= limit)


def test_forms_are_found_and_named(database: Database) -> None:
    """Backwards, upside down, and both; each hit says which."""
    store_lines(database, [line_from("C3 D3 G3 F3 r8 F3 G3 D3 C3 r8 C4 Bb3 F3 G3 r8 G3 F3 Bb3 C4")])
    asked = NearQuestion(Question(figure_from_notes("C3 D3 G3 F3")), 1.0, forms=FORMS)
    with database.reading() as connection:
        answer = search_near(connection, asked)
    found = [(hit.occurrence.first, [change.words for change in hit.occurrence.changes]) for hit in answer.hits]
    assert found == [(0, []), (4, ["retrograde"]), (8, ["inversion"]), (12, ["retrograde inversion"])]


def test_turning_twice_gives_the_figure_back() -> None:
    """Retrograde and inversion undo themselves, but for where the inversion stands."""
    figure = figure_from_notes_of(line_from("C3 D3 G3 F3", "1 1/2 2 1"), 0, 3)
    for form in FORMS[1:3]:
        twice = turned(turned(figure, form), form)
        assert (twice.pitches, twice.positions, twice.onsets) == (figure.pitches, figure.positions, figure.onsets)


def test_context_and_filters_hold_for_near_hits_too(database: Database) -> None:
    """Only occurrences that stand where they are wanted, and a better one elsewhere does not push them out."""
    line = line_from("C3 E3 G3 C3 D3 F#3 A3 F3 C3 Eb3 G3 C3", title="One")
    store_lines(database, [line, line_from("C3 E3 G3 A3", title="Two")])
    with database.reading() as connection:
        question = Question(figure_from_notes("C3 E3 G3"), context=Context(beat=Fraction(1)))
        hits = search_near(connection, NearQuestion(question, 0.8)).hits
        assert [(hit.entry.details.title, hit.occurrence.first) for hit in hits] == [
            ("One", 0), ("One", 4), ("Two", 0), ("One", 8),
        ]  # fmt: skip
        only_two = Question(figure_from_notes("C3 E3 G3"), selection=Selection(tune="two"))
        assert {hit.entry.details.title for hit in search_near(connection, NearQuestion(only_two, 0.8)).hits} == {"Two"}


def test_sequences_are_the_figure_repeated_at_once_on_other_degrees(database: Database) -> None:
    """Three times a step down, as one hit; a mere repetition at pitch is none."""
    store_lines(database, [line_from("G3 A3 F3 F3 G3 E3 E3 F3 D3 r8 G3 A3 F3 G3 A3 F3")])
    question = Question(figure_from_notes("G3 A3 F3"), Folds(mode=True))
    with database.reading() as connection:
        found = near_sequences(connection, NearQuestion(question, 1.0))
    assert [(hit.occurrence.first, hit.occurrence.last) for hit in found] == [(0, 8)]
    assert found[0].occurrence.changes[0].words.startswith("sequence: 3 times")


@pytest.mark.parametrize("threshold", [-0.1, 1.1, 2, float("nan")])
def test_thresholds_outside_0_to_1_are_refused(threshold: float) -> None:
    """The message says what is possible."""
    with pytest.raises(QueryError, match="between 0"):
        NearQuestion(Question(figure_from_notes("C E G")), threshold)


def test_a_threshold_of_0_ranks_everything(database: Database) -> None:
    """The best come first, whatever is found after them."""
    store_lines(database, [line_from("C3 E3 G3 A3 B3 C4 D4")])
    with database.reading() as connection:
        answer = search_near(connection, NearQuestion(Question(figure_from_notes("C3 E3 G3")), 0.0), 1)
    assert answer.hits[0].occurrence.likeness == 1
    assert not answer.is_complete
