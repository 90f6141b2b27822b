"""Columns from what is stored are those of an analysis made anew."""

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from corpus.errors import CorpusError, QueryError
from corpus.profile.columns import Columns, columns_of, join
from corpus.read.written import ReadingWishes
from db.catalogue import Selection, load_many
from db.connection import Database
from db.intake import IntakeOptions, add_files
from db.paths import expand
from db.profile_lines import selected_lines

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
