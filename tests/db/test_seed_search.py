"""The seed answer key against the search engine: plants are found under the folds that see through their disguise."""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from corpus.match.figure import Folds, figure_from_notes
from corpus.read.written import ReadingWishes
from db.connection import Database
from db.intake import IntakeOptions, add_files
from db.opening import open_database
from db.paths import expand
from db.search import Question, search
from tests.databases import Databases

SEED = Path(__file__).parents[2] / "seed_data"
KEY: list[dict[str, Any]] = tomllib.loads((SEED / "answer_key.toml").read_text(encoding="utf-8"))["figure"]
NAMES = [figure["name"] for figure in KEY]

Place = tuple[str, str, int, float]


@pytest.fixture(scope="module")
def seed(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """The seed data in a database; every file is read without a refusal."""
    database = open_database(databases.new(tmp_path_factory.mktemp("seed") / "seed.db"), create=True)
    for report in add_files(database, expand([str(SEED)]), IntakeOptions(ReadingWishes())):
        assert report.state == "added"
        assert not [piece.reason for piece in report.pieces if piece.reason]
    yield database
    database.close()


def found(seed: Database, figure: dict[str, Any], folds: Folds) -> dict[Place, tuple[Place, int | None]]:
    """Where a figure is found: title, player, bar and beat of the first note, with those of the last."""
    with seed.reading() as connection:
        answer = search(connection, Question(figure_from_notes(figure["notes"]), folds))
    places: dict[Place, tuple[Place, int | None]] = {}
    for hit in answer.hits:
        details, line = hit.entry.details, hit.transcription
        first, last = (
            (details.title, details.player, line.bar_of(i).number, float(line.beat_of(i)))
            for i in (hit.occurrence.first, hit.occurrence.last)
        )
        places[first] = (last, hit.occurrence.transposed)
    return places


def planted(figure: dict[str, Any], seen_through: set[str]) -> dict[Place, dict[str, Any]]:
    """The plants whose every disguise is among those that a question sees through."""
    return {
        (o["tune"], o["player"], o["bar"], float(o["beat"])): o
        for o in figure["occurrence"]
        if set(o["disguise"]) <= seen_through
    }


@pytest.mark.parametrize("name", NAMES)
def test_exact_search_finds_the_undisguised_plants_and_nothing_else(seed: Database, name: str) -> None:
    """Transposed, an octave away, stretched or on another beat: found with the right distance; no other place is."""
    figure = KEY[NAMES.index(name)]
    places = found(seed, figure, Folds())
    wanted = planted(figure, {"plain", "transposed", "octave", "shifted", "stretched", "extended"})
    assert set(places) == set(wanted)
    for place, occurrence in wanted.items():
        assert places[place][1] == occurrence["transposed"]


@pytest.mark.parametrize("name", NAMES)
def test_ignoring_doubles_finds_doubled_plants_from_first_to_last_note(seed: Database, name: str) -> None:
    """Every note twice, in the same or in twice the time: both notes at each end belong to the hit."""
    figure = KEY[NAMES.index(name)]
    places = found(seed, figure, Folds(doubles=True))
    for place, occurrence in planted(figure, {"transposed", "octave", "shifted", "stretched", "doubled"}).items():
        assert place in places
        last = places[place][0]
        if "doubled" in occurrence["disguise"]:
            assert last[2:] == (occurrence["to_bar"], float(occurrence["to_beat"]))


@pytest.mark.parametrize("name", NAMES)
def test_ignoring_octaves_finds_plants_with_a_note_in_another_octave(seed: Database, name: str) -> None:
    """One note displaced by an octave is seen through."""
    figure = KEY[NAMES.index(name)]
    places = found(seed, figure, Folds(octaves=True))
    assert set(planted(figure, {"transposed", "octave", "octave note", "shifted", "stretched"})) <= set(places)


@pytest.mark.parametrize("name", NAMES)
def test_ignoring_the_mode_finds_plants_with_an_altered_note(seed: Database, name: str) -> None:
    """A third lowered for a minor chord keeps its letter."""
    figure = KEY[NAMES.index(name)]
    places = found(seed, figure, Folds(mode=True))
    wanted = planted(figure, {"transposed", "octave", "altered", "shifted", "stretched"})
    assert any("altered" in occurrence["disguise"] for occurrence in wanted.values())
    assert set(wanted) <= set(places)
