"""The seed answer key against near search: every plant is found, stands first and is explained in the right words.

Default threshold and prices throughout. What is expected comes from the answer key alone.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any, Final

import pytest

from corpus.match.changes import Change, apply_heights, apply_onsets
from corpus.match.exact import Occurrence
from corpus.match.figure import Figure, Folds, figure_from_notes, figure_from_notes_of
from corpus.match.prices import Prices
from corpus.match.side_by_side import side_by_side
from corpus.model import Transcription
from corpus.read.written import ReadingWishes
from db.catalogue import Selection, entries, load_many
from db.connection import Database
from db.intake import IntakeOptions, add_files
from db.near import NearQuestion, search_near
from db.opening import open_database
from db.paths import expand
from db.search import Hit, Question
from tests.databases import Databases
from tests.db.test_seed_search import KEY, NAMES, SEED

Place = tuple[str, str, int, float]
Told = tuple[str, tuple[int, ...], tuple[int, ...]]

OF_RHYTHM: Final = ("stretched", "shifted", "rhythm")
PRICED: Final = {"octave note", "altered", "passing note", "resolved differently", "cut short", "doubled"}
"""Disguises that cost something when rhythm does not count."""

EQUALLY_CHEAP: Final[dict[tuple[str, Place], tuple[list[Told], int, set[str]]]] = {
    # Four notes a fourth apart are the figure without its last note or, a fourth lower, without its first: the notes
    # cannot tell which. Of two transpositions near search takes the one that leaves the last note in its place.
    ("stile", ("Lamplighter's Round", "Ruben Castlemoor", 36, 1.0)): (
        [("cut", (1,), ())],
        24,
        {"cut short: the first note missing"},
    ),
}
"""Plants that another change of the same price explains as well: that change, its transposition and its words."""


@dataclass(frozen=True)
class Seed:
    """The seed data in a database, and its lines by title and player."""

    database: Database
    lines: dict[tuple[str, str], Transcription]

    def near(self, figure: Figure) -> list[Hit]:
        """All hits of a near search."""
        with self.database.reading() as connection:
            return list(search_near(connection, NearQuestion(Question(figure))).hits)

    def line(self, found: dict[str, Any]) -> Transcription:
        """The line in which an occurrence stands."""
        return self.lines[found["tune"], found["player"]]

    def ends(self, found: dict[str, Any]) -> tuple[int, int]:
        """The first and the last note of the whole of an occurrence, by their numbers in the line."""
        line = self.line(found)
        places = [(line.bar_of(i).number, float(line.beat_of(i))) for i in range(len(line.notes))]
        first = places.index((found["bar"], float(found["beat"])))
        return first, places.index((found["to_bar"], float(found["to_beat"])))


@pytest.fixture(scope="module")
def seed(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Seed]:
    """The seed data in a database."""
    database = open_database(databases.new(tmp_path_factory.mktemp("seed") / "seed.db"), create=True)
    for report in add_files(database, expand([str(SEED)]), IntakeOptions(ReadingWishes())):
        assert report.state == "added"
    with database.reading() as connection:
        details = {entry.id: entry.details for entry in entries(connection, Selection())[0]}
        loaded = load_many(connection, list(details))
        lines = {(details[identity].title, details[identity].player): line for identity, line in loaded}
    yield Seed(database, lines)
    database.close()


def place_of(hit: Hit, note: int) -> Place:
    """Title, player, bar and beat of a note."""
    line, details = hit.transcription, hit.entry.details
    return details.title, details.player, line.bar_of(note).number, float(line.beat_of(note))


def place(found: dict[str, Any]) -> Place:
    """Where the key says that an occurrence begins."""
    return found["tune"], found["player"], found["bar"], float(found["beat"])


def found_at(seed: Seed, hits: list[Hit], found: dict[str, Any]) -> Hit:
    """The one hit that covers an occurrence from its first note to its last; what was added at the end is not in it."""
    first, last = seed.ends(found)
    last -= len(found.get("added", []))
    line = seed.line(found)
    ends = [
        (found["tune"], found["player"], line.bar_of(note).number, float(line.beat_of(note))) for note in (first, last)
    ]
    there = [hit for hit in hits if place_of(hit, hit.occurrence.first) == ends[0]]
    (hit,) = [hit for hit in there if place_of(hit, hit.occurrence.last) == ends[1]]
    return hit


def told(changes: tuple[Change, ...], *left_aside: str) -> list[Told]:
    """Changes without their words, some kinds left aside."""
    return sorted((c.kind, c.notes, c.amounts) for c in changes if c.kind not in left_aside)


def expected(figure: dict[str, Any], found: dict[str, Any]) -> list[Told]:
    """The changes of pitches that the key tells."""
    size = len(figure["intervals"]) + 1
    is_doubled = "doubled" in found["disguise"]
    changes: list[Told] = []
    if "altered" in found:
        changes.append(("altered", (found["altered"]["note"],), (found["altered"]["semitones"],)))
    if "octave_note" in found:
        changes.append(("octave", (found["octave_note"]["note"],), (found["octave_note"]["semitones"] // 12,)))
    if "last" in found:
        changes.append(("replaced", (size,), (found["last"],)))
    if "passing" in found:
        sizes = (found["passing"]["semitones"], 0) if is_doubled else (found["passing"]["semitones"],)
        changes.append(("added", (found["passing"]["after"],), sizes))
    if "cut" in found:
        changes.append(("cut", tuple(range(size - found["cut"] + 1, size + 1)), ()))
    if is_doubled:
        changes += [("repeats", (number,), (2,)) for number in range(1, size + 1)]
    return sorted(changes)


def words_of(found: dict[str, Any]) -> set[str]:
    """What the words of the changes must contain."""
    words = set()
    if "altered" in found:
        words.add("raised" if found["altered"]["semitones"] > 0 else "lowered")
    if "octave_note" in found:
        words.add("an octave higher" if found["octave_note"]["semitones"] > 0 else "an octave lower")
    if "last" in found:
        words.add("last note resolved differently")
    if "passing" in found:
        words.add("passing note added after the")
    if "cut" in found:
        words.add("cut short: the last note missing")
    if "doubled" in found["disguise"]:
        words.add("every note doubled")
    return words


def assert_explained(figure: dict[str, Any], found: dict[str, Any], hit: Hit) -> None:
    """The changes of pitches are those of the key, and each is told in one text of the right words."""
    changes = hit.occurrence.changes
    wanted, transposed, words = EQUALLY_CHEAP.get(
        (figure["name"], place(found)), (expected(figure, found), found["transposed"], words_of(found))
    )
    assert told(changes, *OF_RHYTHM) == wanted, place(found)
    assert hit.occurrence.transposed == transposed, place(found)
    texts = [c.words for c in changes if c.words and c.kind not in OF_RHYTHM]
    assert len(texts) == len(words), texts
    for word in words:
        assert len([text for text in texts if word in text]) == 1, (word, texts)


@pytest.mark.parametrize("name", NAMES)
def test_every_plant_is_found_and_stands_first(seed: Seed, name: str) -> None:
    """From its first note to its last, above every place that does not hold the figure."""
    figure = KEY[NAMES.index(name)]
    hits = seed.near(figure_from_notes(figure["notes"]))
    found = [found_at(seed, hits, occurrence) for occurrence in figure["occurrence"]]
    known = {place(x) for x in [*figure["occurrence"], *figure.get("chance", [])]}
    others = [hit for hit in hits if place_of(hit, hit.occurrence.first) not in known]
    worst = min(hit.occurrence.likeness for hit in found)
    assert [place_of(hit, hit.occurrence.first) for hit in others if hit.occurrence.likeness >= worst] == []


@pytest.mark.parametrize("name", NAMES)
def test_every_plant_is_explained(seed: Seed, name: str) -> None:
    """The changes are those by which the plant was disguised; an undisguised one is exactly alike."""
    figure = KEY[NAMES.index(name)]
    hits = seed.near(figure_from_notes(figure["notes"]))
    for occurrence in figure["occurrence"]:
        hit = found_at(seed, hits, occurrence)
        assert_explained(figure, occurrence, hit)
        assert (hit.occurrence.likeness == 1) == (not set(occurrence["disguise"]) & PRICED)


def plain_passage(seed: Seed, figure: dict[str, Any]) -> tuple[dict[str, Any], Transcription, tuple[int, int]]:
    """The first plain occurrence, its line and its first and last note."""
    plain = next(x for x in figure["occurrence"] if x["disguise"] == ["plain"])
    return plain, seed.line(plain), seed.ends(plain)


@pytest.mark.parametrize("name", NAMES)
def test_asked_by_a_passage_pace_and_place_in_the_bar_are_told(seed: Seed, name: str) -> None:
    """Asked as with --like the figure has rhythm: what is stretched or shifted is said to be, nothing else is."""
    figure = KEY[NAMES.index(name)]
    plain, line, ends = plain_passage(seed, figure)
    asked = figure_from_notes_of(line, *ends)
    hits = seed.near(asked)
    for occurrence in figure["occurrence"]:
        hit = found_at(seed, hits, occurrence)
        assert_explained(figure, occurrence, hit)
        changes = hit.occurrence.changes
        stretched = [c for c in changes if c.kind == "stretched"]
        assert [c.amounts for c in stretched] == ([(2, 1)] if "stretched" in occurrence["disguise"] else [])
        assert all(c.words == "stretched to twice the time" for c in stretched)
        shifted = [c for c in changes if c.kind == "shifted"]
        meter = hit.transcription.bar_of(hit.occurrence.first).meter
        if meter == asked.meter:
            later = (Fraction(str(occurrence["beat"])) - Fraction(str(plain["beat"]))) % meter.numerator
            assert [Fraction(*c.amounts) % meter.numerator for c in shifted] == ([later] if later else [])
            assert bool(shifted) == ("shifted" in occurrence["disguise"])
        else:
            # A beat of a waltz is no beat of a bar of four.
            assert not shifted
        assert all(c.words.startswith("shifted: starts") for c in shifted)
        assert not [c.words for c in changes if c.kind == "rhythm" and c.words]
        assert_sounds_right(asked, hit.transcription, hit.occurrence)
        if {"stretched", "doubled"} <= set(occurrence["disguise"]) and "passing" not in occurrence:
            assert_each_note_twice_at_its_old_value(asked, hit.transcription, hit.occurrence)


def onsets_of(line: Transcription, occurrence: Occurrence) -> list[int]:
    """Onsets in ticks from the first note of an occurrence."""
    onsets = [note.onset_ticks for note in line.notes[occurrence.first : occurrence.last + 1]]
    return [onset - onsets[0] for onset in onsets]


def assert_sounds_right(asked: Figure, line: Transcription, occurrence: Occurrence) -> None:
    """The changes make the occurrence of the figure."""
    assert occurrence.transposed is not None
    pitches = [note.pitch for note in line.notes[occurrence.first : occurrence.last + 1]]
    assert apply_heights(asked, occurrence.transposed, occurrence.changes) == pitches
    assert apply_onsets(asked, occurrence.changes) == onsets_of(line, occurrence)


def assert_each_note_twice_at_its_old_value(asked: Figure, line: Transcription, occurrence: Occurrence) -> None:
    """Notes one and two last as long as the first of the figure, three and four as long as its second, and so on."""
    assert asked.onsets is not None
    onsets = onsets_of(line, occurrence)
    lengths = [b - a for a, b in pairwise(onsets)]
    wanted = [b - a for a, b in pairwise(asked.onsets)]
    assert lengths[:-1:2] == wanted
    assert lengths[1::2] == wanted


@pytest.mark.parametrize("name", [figure["name"] for figure in KEY if any("added" in x for x in figure["occurrence"])])
def test_an_extended_plant_beside_a_plain_one_is_extended_at_the_end(seed: Seed, name: str) -> None:
    """The whole passage, put beside a plain occurrence, has so many notes more at its end."""
    figure = KEY[NAMES.index(name)]
    _, line, ends = plain_passage(seed, figure)
    for occurrence in figure["occurrence"]:
        if "added" not in occurrence:
            continue
        beside = side_by_side(line, ends, seed.line(occurrence), seed.ends(occurrence), Folds(), Prices())
        assert beside.transposed == occurrence["transposed"]
        (change,) = [c for c in beside.changes if c.kind not in OF_RHYTHM]
        assert (change.kind, change.notes) == ("extended", (len(figure["intervals"]) + 1,))
        assert change.amounts == tuple(occurrence["added"])
        assert change.words.startswith("extended at the end: ")
