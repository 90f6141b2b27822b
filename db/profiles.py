"""The profile of a selection: of all notes at once, with shapes and recurring figures; of very many notes in pieces."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import sqlalchemy as sa

from corpus.errors import QueryError
from corpus.profile.pieces import PiecedProfile, profile_in_pieces
from corpus.profile.profile import Profile, profile_of
from db.catalogue import Selection
from db.profile_lines import note_total, selected_lines, selected_pieces
from db.recurring import coverages

if TYPE_CHECKING:
    from corpus.profile.columns import Columns

MOST_AT_ONCE: Final = 1_000_000
"""Notes looked at all at once: about two gigabytes."""


@dataclass(frozen=True)
class Profiled:
    """A profile, the IDs of its lines, and what they are called."""

    profile: Profile | PiecedProfile
    ids: tuple[int, ...]
    names: tuple[str, ...]


def profiled(
    connection: sa.Connection,
    selection: Selection,
    shapes: bool | None,
    repetition: bool | None,
    most_at_once: int = MOST_AT_ONCE,
) -> Profiled:
    """The profile of a selection; ``shapes`` and ``repetition`` as ``db.recurring.coverages`` has them.

    More than ``most_at_once`` notes are looked at in pieces, unless shapes or recurring figures are wished for. Raises
    what ``db.profile_lines.selected_lines`` raises.
    """
    if not shapes and not repetition and note_total(connection, selection) > most_at_once:
        return _in_pieces(connection, selection, shapes is None or repetition is None)
    lines = selected_lines(connection, selection)
    (covered,) = coverages(connection, [lines], shapes, repetition)
    found = profile_of(lines.columns, covered.shapes, covered.repeats, covered.remarks)
    return Profiled(found, lines.ids, lines.names)


def _in_pieces(connection: sa.Connection, selection: Selection, is_less: bool) -> Profiled:
    ids: list[int] = []
    names: list[str] = []

    def columns() -> "Iterator[Columns]":
        for piece in selected_pieces(connection, selection):
            ids.extend(piece.ids)
            names.extend(piece.names)
            yield piece.columns

    remarks = ["so many notes: shapes and recurring figures are counted with --shapes and --repetition only"]
    found = profile_in_pieces(columns(), remarks if is_less else ())
    if selection.section and not found.note_count:
        raise QueryError(f"none of the lines selected has a note in a section {selection.section!r}")
    return Profiled(found, tuple(ids), tuple(names))
