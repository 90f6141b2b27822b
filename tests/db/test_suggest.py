"""Material for suggested lines out of a database."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import pytest

from corpus.errors import QueryError
from corpus.model import ChordSpan, Transcription
from corpus.shelf.keeping import from_passage, source_of
from corpus.shelf.kept import KeptFigure
from db.connection import Database
from db.shelf import change_shelf
from db.suggest import corpus_material, player_habits, shelf_material
from tests.db.helpers import store_lines
from tests.generators.lines import walking_line


def over(symbols: str, player: str = "") -> Transcription:
    """A generated line of four bars, a chord a bar."""
    line = walking_line(3, 4)
    bar = line.bars[0].length_ticks
    spans = tuple(ChordSpan(symbol, i * bar, (i + 1) * bar) for i, symbol in enumerate(symbols.split()))
    details = replace(line.details, key=None, player=player)
    return replace(line, chords=spans, details=details)


def put(database: Database, figures: Sequence[KeptFigure]) -> None:
    """Make the shelf these figures."""
    change_shelf(database, lambda _: figures)


def test_a_figure_fits_the_functions_of_all_its_sources(database: Database) -> None:
    """Kept over a ii, heard over a I in another line: both are known; a source that holds other notes is none."""
    lines = [over("Dm7 G7 Cmaj7 Cmaj7"), over("Fmaj7 C7 Fmaj7 Fmaj7")]
    ids = store_lines(database, lines)
    last = max(i for i, note in enumerate(lines[0].notes) if note.bar_index == 0)
    figure = from_passage("mine", lines[0], 0, last, ids[0])
    other = source_of(lines[1], 0, last, ids[1])
    put(database, [replace(figure, sources=(*figure.sources, other))])
    with database.reading() as connection:
        found = shelf_material(connection)
    assert [source.notes[0].numeral for source in found.sources] == ["ii", "I"]
    assert (found.count, found.unusable) == (1, {})
    put(database, [replace(figure, sources=(*figure.sources, replace(other, notes=("C2", "D2"))))])
    with database.reading() as connection:
        assert len(shelf_material(connection).sources) == 1


def test_a_figure_without_chords_takes_those_of_its_line(database: Database) -> None:
    """Chords forgotten on the shelf are read where the figure came from; without a line it cannot be used."""
    line = over("Dm7 G7 Cmaj7 Cmaj7")
    (identity,) = store_lines(database, [line])
    bare = replace(from_passage("bare", line, 0, 3, identity), chords=())
    lost = replace(bare, name="lost", sources=())
    put(database, [bare, lost])
    with database.reading() as connection:
        found = shelf_material(connection)
    assert [source.group for source in found.sources] == ["bare"]
    assert list(found.unusable) == ["lost"]


def test_habits_are_counted_from_the_players_lines(database: Database) -> None:
    """All moves of the line, counted here by hand of its pitches; nobody's habits are refused."""
    line = over("Dm7 G7 Cmaj7 Cmaj7", player="Orlo Quist")
    store_lines(database, [line, over("Dm7 G7 Cmaj7 Cmaj7", player="Tamsin Vey")])
    with database.reading() as connection:
        habits = player_habits(connection, "quist")
        with pytest.raises(QueryError, match="no transcription"):
            player_habits(connection, "nobody")
    pitches = [note.pitch for note in line.notes if note.pitch is not None]
    assert len(pitches) == len(line.notes)
    moves = [abs(b - a) for a, b in pairwise(pitches)]
    assert habits.notes == sum(move <= 12 for move in moves)
    assert habits.intervals[max(set(moves), key=moves.count)] == 0


def test_an_empty_database_has_no_material(database: Database) -> None:
    """Neither a shelf nor families; nothing is raised."""
    assert corpus_material(database).count == 0
    with database.reading() as connection:
        assert shelf_material(connection).count == 0
