"""The command ``recur``: list, JSON, maps, signatures, and what it says to wrong questions."""

import re
from pathlib import Path

import pytest
from lxml import etree

from corpus.read.written import ReadingWishes
from db.intake import IntakeOptions, add_files
from db.opening import open_database
from db.paths import expand
from tests.cli.conftest import Run
from tests.databases import Databases
from tests.db.test_seed_search import SEED

CONTRACT = {"id", "figure", "notes", "occurrences", "players", "tunes", "coverage", "surprise", "labels"}


@pytest.fixture(scope="module")
def seed_url(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A database that holds the seed lines."""
    url = databases.new(tmp_path_factory.mktemp("recur") / "seed.db")
    database = open_database(url, create=True)
    list(add_files(database, expand([str(SEED)]), IntakeOptions(ReadingWishes())))
    database.close()
    return url


@pytest.fixture
def seeded(run: Run, databases: Databases, seed_url: str, new_url: str) -> Run:
    """A run whose database holds the seed lines."""
    databases.copy(seed_url, new_url)
    return run


def test_json_is_an_array_of_families_best_first(seeded: Run) -> None:
    """Every field of the contract; occurrences are the objects of ``find``."""
    families = seeded("recur", "--limit", "6", "--json").json
    surprises = [family["surprise"] for family in families]
    assert len(families) == 6
    assert surprises == sorted(surprises, reverse=True)
    hit = seeded("find", "--intervals", "+3 -4", "--limit", "1", "--json").json[0]
    for family in families:
        assert {"id", "figure", "notes", "occurrences", "players", "tunes", "coverage", "surprise", "labels"} <= set(
            family
        )
        assert len(family["figure"]["intervals"]) == family["notes"] - 1
        assert len(family["occurrences"]) == family["count"] + family["replays"]
        assert sum(entry["count"] for entry in family["players"]) == family["count"]
        assert 0 < family["coverage"] < 1
        assert set(family["occurrences"][0]) == set(hit)


def test_the_list_tells_where_and_how(seeded: Run) -> None:
    """The letter, the notes, how often, over what, in which disguises, and where."""
    out = seeded("recur", "--limit", "2").out
    assert out.startswith("A   ")
    for words in ("places in", "chance would give", "mostly starts on the", "as it is", "places more", "\nB   "):
        assert words in out
    assert max(map(len, out.splitlines())) <= 80


def test_the_second_time_the_families_are_as_kept(seeded: Run) -> None:
    """What was found is told again, with the same codes."""
    first, second = seeded("recur", "--json"), seeded("recur", "--json")
    assert first.json == second.json
    assert "as kept" in second.err
    assert "as kept" not in first.err


def test_the_map_has_letters_primes_and_shares(seeded: Run) -> None:
    """Families as letters with primes for variants, and under each bar the share of its notes that they cover."""
    out = seeded("recur", "--map").out
    assert "A---" in out
    assert "′-" in out
    assert "100 %" in out
    assert "mark variants" in out
    assert max(map(len, out.splitlines())) <= 80


def test_signature_and_common_say_whose(seeded: Run) -> None:
    """Rates and ratios of one player; players and tunes of the common stock."""
    out = seeded("recur", "--signature", "quellenberg", "--limit", "3").out
    assert "places in 1,000 notes" in out
    out = seeded("recur", "--common", "--limit", "3").out
    assert "held by 4 of 4 players" in out


def test_strains_are_long_passages_that_come_back(seeded: Run) -> None:
    """The head that is played with repeats in the seed lines is the only one."""
    found = seeded("recur", "--strains", "--json").json
    assert [family["tunes"][0]["title"] for family in found] == ["Two Doors Down"]
    assert found[0]["notes"] >= 25


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["99"], "there is no transcription 99"),
        (["--player", "nobody"], "no line answers"),
        (["--readings", "smell"], "no reading 'smell'"),
        (["--readings", "role,letter"], "compared alone"),
        (["--shortest", "9", "--longest", "5"], "the smaller number first"),
        (["--tolerance", "0"], "must lie above 0"),
        (["--tolerance", "nan"], "from 0 to 1"),
        (["--ignore", "pitch"], "cannot ignore 'pitch'"),
        (["--signature", "quellenberg", "--common"], "exclude each other"),
        (["--signature", "quellenberg", "--readings", "role"], "counts figures of intervals"),
        (["--json", "--map"], "exclude each other"),
        (["--limit", "0"], "--limit"),
    ],
)
def test_wrong_questions_are_answered_in_words(seeded: Run, words: list[str], says: str) -> None:
    """Exit code 2, one line, nothing on standard output."""
    outcome = seeded("recur", *words)
    assert outcome.code == 2
    assert says in " ".join(outcome.err.split())
    assert not outcome.out


def test_little_music_holds_no_families(filled: Run) -> None:
    """Eight bars repeat five notes; three bars nothing, and it says so."""
    assert "1 family in 2 lines" in filled("recur").err
    outcome = filled("recur", "2")
    assert outcome.code == 0
    assert "nothing recurs in 1 line, 7 notes" in outcome.err


def test_families_are_bracketed_as_the_map_letters_them(seeded: Run, tmp_path: Path) -> None:
    """Letters on the page are those of ``map --families``, each with a line of notes in the legend."""
    path = tmp_path / "line.svg"
    outcome = seeded("show", "2", "--svg", path, "--families")
    assert outcome.code == 0, outcome.err
    root = etree.fromstring(path.read_bytes())
    labels = [text.text for text in root.iter("{*}text") if text.get("class") == "markLabel"]
    (legend,) = (group for group in root.iter("{*}g") if group.get("class") == "legend")
    texts = [text.text for text in legend.iter("{*}text")]
    mapped = set(re.findall(r"^(\w+) +=", seeded("map", "2", "--families").out, re.MULTILINE))
    assert labels
    assert {label.strip("()").rstrip("′″‴") for label in labels} == mapped
    assert {text.rstrip("′″‴") for text in texts if re.fullmatch("[A-Z]\\d?[′″‴]?", text)} >= mapped
