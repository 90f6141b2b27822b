"""Kept families keep up with lines that are added, and never answer for lines that they have not seen."""

import pytest

from corpus.match.figure import Folds
from corpus.match.prices import VERSIONS
from corpus.recur.settings import DiscoverySettings
from db import recur as recur_module
from db import refresh as refresh_module
from db.catalogue import Selection
from db.connection import Database
from db.recur import RecurQuestion, discover, kept, recur
from db.refresh import Refreshed, refresh
from tests.db.helpers import store_lines
from tests.generators.small import line_from

FIGURE = "C3 E3 F3 F#3 G3 B2 D3 Bb2 A2"


def lines_with(figure: str, *starts: str) -> list[str]:
    """The figure after each of some first notes."""
    return [f"{start} {figure}" for start in starts]


@pytest.mark.parametrize(
    "question",
    [
        RecurQuestion(),
        RecurQuestion(
            Selection((3, 4), "Orlo Quist", "café", "spring", "B", (180.0, None), (None, 1999)),
            DiscoverySettings(Folds(mode=True), ("letter",), 5, 12, 3, 0.5, 7, True, VERSIONS),
        ),
    ],
)
def test_a_question_comes_back_from_its_text(question: RecurQuestion) -> None:
    """Ranges, IDs, folds, readings and prices included."""
    assert RecurQuestion.from_text(question.as_text()) == question


def test_lines_that_are_added_reach_the_kept_families(database: Database) -> None:
    """After refreshing, the answer is kept, and is the one that discovery gives now; others' answers are left alone."""
    first = store_lines(database, [line_from(text) for text in lines_with(FIGURE, "D4", "F2")], "one.abc")
    everything, only_first = RecurQuestion(), RecurQuestion(Selection(ids=tuple(first)))
    for question in (everything, only_first):
        recur(database, question)
    added = store_lines(database, [line_from(text) for text in lines_with(FIGURE, "Ab3", "G4")], "two.abc")
    assert refresh(database, added) == Refreshed(again=1, left=0)
    with database.reading() as connection:
        found, now = kept(connection, everything), discover(connection, everything)
        assert kept(connection, only_first) is not None
    assert found is not None
    assert found.families == now.families
    assert {place.transcription for place in found.families[0].places} == {*first, *added}
    assert refresh(database, []) == Refreshed(0, 0)


def test_long_work_is_left_for_the_next_look(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """What would take long is counted; the next look finds it again and says so."""
    store_lines(database, [line_from(text) for text in lines_with(FIGURE, "D4", "F2")], "one.abc")
    recur(database, RecurQuestion())
    monkeypatch.setattr(refresh_module, "MOST_NOTES", 5)
    added = store_lines(database, [line_from(text) for text in lines_with(FIGURE, "Ab3")], "two.abc")
    assert refresh(database, added) == Refreshed(again=0, left=1)
    assert recur(database, RecurQuestion()).made == "again"


def test_lines_added_while_families_are_looked_for_are_not_taken_as_seen(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another process adds a line between the looking and the keeping: the next look finds the families again."""
    store_lines(database, [line_from(text) for text in lines_with(FIGURE, "D4", "F2")], "one.abc")
    keep = recur_module.keep

    def add_first(*arguments: object) -> bool:
        monkeypatch.undo()
        return keep(*arguments)  # type: ignore[arg-type]

    def discover_slowly(*arguments: object) -> recur_module.Discovered:
        found = discover(*arguments)  # type: ignore[arg-type]
        other = Database(database.url)
        store_lines(other, [line_from(text) for text in lines_with(FIGURE, "Ab3")], "two.abc")
        other.close()
        return found

    monkeypatch.setattr(recur_module, "discover", discover_slowly)
    monkeypatch.setattr(recur_module, "keep", add_first)
    assert {p.transcription for p in recur(database, RecurQuestion()).families[0].places} == {1, 2}
    again = recur(database, RecurQuestion())
    assert again.made == "again"
    assert {p.transcription for p in again.families[0].places} == {1, 2, 3}
