"""A whole collection that music21 ships: added to the end, and searched for tunes that stand in it twice.

O'Neill's tunes 732 to 758 were transcribed by two people independently (the files ``0732-0758_bs`` and
``0732-0758_mh``): the opening of one must find the other wherever the notes agree.
"""

from collections.abc import Iterator
from itertools import pairwise

import pytest

from corpus.match.figure import figure_from_intervals, figure_from_notes
from corpus.model import Transcription
from corpus.read.abc_text import split_tunes
from corpus.read.written import ReadingWishes
from corpus.recur.settings import DiscoverySettings
from db.catalogue import Selection, entries, load_many
from db.connection import Database
from db.intake import FileReport, IntakeOptions, add_files
from db.opening import open_database
from db.paths import expand, music21_collections
from db.recur import RecurQuestion, recur
from db.search import Question, search
from tests.databases import Databases
from tests.db.helpers import is_sound

pytestmark = pytest.mark.no_sql(reason="reading takes the time, not storing")

OPENING = 8


@pytest.fixture(scope="module")
def added(
    databases: Databases, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Database, list[FileReport]]]:
    """All of O'Neill's 1850 melodies in a database."""
    database = open_database(databases.new(tmp_path_factory.mktemp("oneill") / "tunes.db"), create=True)
    files = expand(["music21:oneills1850"])
    yield database, list(add_files(database, files, IntakeOptions(ReadingWishes())))
    database.close()


def test_the_whole_collection_is_added(added: tuple[Database, list[FileReport]]) -> None:
    """39 files, 2,009 tunes, none refused, the database sound."""
    database, reports = added
    assert [report.state for report in reports] == ["added"] * 39
    assert not [piece.reason for report in reports for piece in report.pieces if piece.reason]
    with database.reading() as connection:
        _, total = entries(connection, Selection(collection="oneills1850"))
    assert total == 2009
    assert is_sound(database)


def test_a_typed_figure_finds_its_tune_in_any_key(added: tuple[Database, list[FileReport]]) -> None:
    """The opening of number 1001, read by hand off its text ``(F/G/)|ABA d2f|afb`` in D, and the same in C."""
    database, _ = added
    for typed, transposed in (("F#4 G4 A4 B4 A4 D5 F#5 A5 F#5 B5", 0), ("E4 F4 G4 A4 G4 C5 E5 G5 E5 A5", 2)):
        with database.reading() as connection:
            hits = search(connection, Question(figure_from_notes(typed))).hits
        found = {(hit.entry.details.title, hit.occurrence.first, hit.occurrence.transposed) for hit in hits}
        assert ("Come Now Or Stay", 0, transposed) in found


def _numbered(database: Database) -> dict[str, dict[int, tuple[int, Transcription]]]:
    """By transcriber, the tunes 732 to 758: their ID and line by number."""
    with database.reading() as connection:
        found, _ = entries(connection, Selection(collection="oneills1850"))
        by_file = {who: [e.id for e in found if e.source.endswith(f"0732-0758_{who}.abc")] for who in ("bs", "mh")}
        lines = {who: dict(load_many(connection, ids)) for who, ids in by_file.items()}
    folder = music21_collections()["oneills1850"]
    numbers = {
        who: [int(tune.number) for tune in split_tunes((folder / f"0732-0758_{who}.abc").read_bytes(), who)]
        for who in by_file
    }
    return {
        who: {number: (i, lines[who][i]) for number, i in zip(numbers[who], by_file[who], strict=True)}
        for who in by_file
    }


def _intervals(line: Transcription) -> list[int]:
    pitches = [note.pitch or 0 for note in line.notes[: OPENING + 1]]
    return [b - a for a, b in pairwise(pitches)]


def test_the_opening_of_one_transcription_finds_the_other(added: tuple[Database, list[FileReport]]) -> None:
    """For each number whose two openings agree anywhere in the other's line, the search finds that place."""
    database, _ = added
    tunes = _numbered(database)
    shared = sorted(set(tunes["bs"]) & set(tunes["mh"]))
    assert shared == list(range(732, 759))
    agreeing = 0
    for number in shared:
        for one, other in (("bs", "mh"), ("mh", "bs")):
            opening = _intervals(tunes[one][number][1])
            other_id, other_line = tunes[other][number]
            pitches = [note.pitch or 0 for note in other_line.notes]
            theirs = [b - a for a, b in pairwise(pitches)]
            agrees = any(theirs[i : i + OPENING] == opening for i in range(len(theirs)))
            figure = figure_from_intervals(" ".join(f"{size:+d}" for size in opening))
            with database.reading() as connection:
                ids = {hit.entry.id for hit in search(connection, Question(figure)).hits}
            assert (other_id in ids) is agrees, (number, one)
            assert tunes[one][number][0] in ids
            agreeing += agrees
    # Counted on the files as music21 10.5 ships them: the two transcribers agree on every opening.
    assert agreeing == 2 * len(shared)


SAME_STRAINS = {
    "O'Fenlon's Hornpipe": "VintonsHornpipe",
    "Mountain Top, The": "RoseBudReel",
    "The Macroom Lasses": "FarrellOGarasFavoriteReel",
    "Kitty's Wedding": "SmithsDelightReel",
    "Tomorrow Morning": "TexarkanaHornpipe",
}
"""Tunes of this book, and pieces of Ryan's Mammoth Collection, another book, that hold a strain of theirs under another
title: met in what ``recur --strains`` found, whose list shows the same notes for both."""


def test_strains_that_two_books_share_are_found(added: tuple[Database, list[FileReport]]) -> None:
    """Among the strains of this book and five pieces of the other each pair stands in one family."""
    database, _ = added
    book = expand(["music21:ryansMammoth"])
    files = [file for file in book if file.path is not None and file.path.stem in SAME_STRAINS.values()]
    assert len(files) == len(SAME_STRAINS)
    list(add_files(database, files, IntakeOptions(ReadingWishes())))
    settings = DiscoverySettings(least_notes=25, most_notes=200, limit=600)
    families = recur(database, RecurQuestion(settings=settings)).families
    with database.reading() as connection:
        found, _ = entries(connection, Selection())
        together = [{place.transcription for place in family.places} for family in families]
    ids = {entry.details.title: entry.id for entry in found}
    others = {entry.source: entry.id for entry in found if "ryansMammoth" in entry.source}
    for title, name in SAME_STRAINS.items():
        pair = {ids[title], others[f"music21:ryansMammoth/{name}.abc"]}
        assert any(pair <= lines for lines in together), title
