"""Columns from what is stored are those of an analysis made anew."""

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from corpus.errors import CorpusError, QueryError
from corpus.profile.columns import Columns, columns_of, join
from corpus.profile.pieces import profile_in_pieces
from corpus.profile.profile import profile_of
from corpus.read.written import ReadingWishes
from corpus.shapes import KINDS, shape_density, shapes_of
from db.catalogue import Selection, load_many
from db.connection import Database
from db.intake import IntakeOptions, add_files
from db.paths import expand
from db.profile_lines import selected_lines, selected_pieces, shape_coverage
from db.profiles import profiled

SEED = Path(__file__).parents[2] / "seed_data"


@pytest.fixture
def seed(database: Database) -> Database:
    """The seed lines."""
    list(add_files(database, expand([str(SEED)]), IntakeOptions(ReadingWishes())))
    return database


def test_stored_lines_have_the_columns_of_lines_that_are_analysed_here(seed: Database) -> None:
    """Every column of every seed line, repeats, pickups and dead notes included."""
    with seed.reading() as connection:
        stored = selected_lines(connection, Selection())
        analysed = join([columns_of(line) for _, line in load_many(connection, stored.ids)])
    for field in fields(Columns):
        assert np.array_equal(getattr(stored.columns, field.name), getattr(analysed, field.name)), field.name


def test_a_section_limits_the_notes_and_keeps_their_neighbours(seed: Database) -> None:
    """The notes inside are those that start in the section; all others stay in the columns."""
    with seed.reading() as connection:
        found = selected_lines(connection, Selection(ids=(12,), section="b"))
        ((_, line),) = load_many(connection, [12])
    inside = [(s := line.section_at(note.onset_ticks)) is not None and s.label == "B" for note in line.notes]
    assert found.columns.inside.tolist() == inside
    assert len(found.columns) == len(line.notes)


def test_what_is_not_there_is_told(seed: Database) -> None:
    """An unknown ID, a player nobody is, a section nobody has."""
    with seed.reading() as connection:
        with pytest.raises(CorpusError, match="no transcription 99"):
            selected_lines(connection, Selection(ids=(99,)))
        with pytest.raises(QueryError, match="no transcription is selected"):
            selected_lines(connection, Selection(player="nobody"))
        with pytest.raises(QueryError, match="a note in a section 'Z'"):
            selected_lines(connection, Selection(section="Z"))


def test_shapes_have_the_density_that_their_own_module_tells(seed: Database) -> None:
    """Line by line, and the notes of several lines do not slip."""
    with seed.reading() as connection:
        for ids in ((1,), (10,), (14,)):
            lines = selected_lines(connection, Selection(ids=ids))
            found = profile_of(lines.columns, shape_coverage(connection, lines))
            ((_, line),) = load_many(connection, ids)
            density = shape_density(shapes_of(line), len(line.notes))
            values = [measure.value for measure in found.measures if measure.group == "shapes"]
            assert values == pytest.approx([density[kind] for kind in KINDS])
        both = selected_lines(connection, Selection(ids=(1, 10)))
        counts = {
            ids: [
                int(flags.sum())
                for flags in shape_coverage(connection, selected_lines(connection, Selection(ids=ids))).values()
            ]
            for ids in ((1,), (10,))
        }
        joined = [int(flags.sum()) for flags in shape_coverage(connection, both).values()]
    assert joined == [one + two for one, two in zip(counts[1,], counts[10,], strict=True)]


@pytest.mark.parametrize("selection", [Selection(), Selection(section="B")])
def test_a_profile_in_pieces_is_the_profile_of_all(seed: Database, selection: Selection) -> None:
    """Every figure with its interval, digit for digit; only where the extreme notes stand is not told."""
    with seed.reading() as connection:
        lines = selected_lines(connection, selection)
        pieces = list(selected_pieces(connection, selection, notes=200))
    assert len(pieces) > 3
    assert tuple(identity for piece in pieces for identity in piece.ids) == lines.ids
    whole = profile_of(lines.columns)
    found = profile_in_pieces(piece.columns for piece in pieces)
    assert found.measures == whole.measures
    assert found.register == replace(whole.register, lowest_note=None, highest_note=None)
    assert found.remarks == whole.remarks
    assert (found.note_count, found.line_count, found.bar_count) == (
        whole.note_count,
        whole.line_count,
        whole.bar_count,
    )


def test_pieces_of_nothing_are_told_as_such(seed: Database) -> None:
    """As of lines at once: a player nobody is; a section nobody has makes a profile of no notes."""
    with seed.reading() as connection:
        with pytest.raises(QueryError, match="no transcription is selected"):
            list(selected_pieces(connection, Selection(player="nobody")))
        pieces = [piece.columns for piece in selected_pieces(connection, Selection(section="Z"))]
    assert profile_in_pieces(pieces).remarks == ("there is no note here: nothing can be said",)


def test_many_notes_are_profiled_in_pieces_and_say_so(seed: Database) -> None:
    """The same figures but for shapes and recurring ones, which are told to be left out."""
    with seed.reading() as connection:
        pieced = profiled(connection, Selection(), None, None, most_at_once=100)
        whole = profiled(connection, Selection(), False, False)
        with pytest.raises(QueryError, match="a note in a section 'Z'"):
            profiled(connection, Selection(section="Z"), None, None, most_at_once=100)
    assert pieced.profile.measures == whole.profile.measures
    assert (pieced.ids, pieced.names) == (whole.ids, whole.names)
    assert "--shapes and --repetition only" in pieced.profile.remarks[-1]
