"""The lines of a selection as columns for a profile, from what is stored: no line is analysed again."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa

from corpus.errors import QueryError
from corpus.form import parse_form
from corpus.harmony.over import FunctionText
from corpus.profile.columns import Columns, LineTexts, join, line_columns
from corpus.reading.summary import PLURALS
from db.catalogue import Selection, load_many, require
from db.packing import note_columns, unpack_indexes, unpack_layout

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


NOTES_A_PIECE: Final = 500_000
"""So many notes of columns, and of all samples of them, take about half a gigabyte."""

_Line = tuple[int, str, Columns]


@dataclass(frozen=True)
class SelectedLines:
    """Columns of the selected lines, and for each line its ID and what it is called."""

    columns: Columns
    ids: tuple[int, ...]
    names: tuple[str, ...]


def selected_lines(connection: sa.Connection, selection: Selection, without: Sequence[int] = ()) -> SelectedLines:
    """The lines of a selection, but those ``without``.

    A section only limits which notes are asked about; the others stay their neighbours.

    Raises CorpusError for an unknown ID, QueryError when nothing is selected, or no line has such a section.
    """
    found = _joined(list(_lines(connection, selection, without)))
    if selection.section and not found.columns.inside.any():
        raise QueryError(f"none of the lines selected has a note in a section {selection.section!r}")
    return found


def selected_pieces(
    connection: sa.Connection, selection: Selection, notes: int = NOTES_A_PIECE
) -> Iterator[SelectedLines]:
    """The lines of a selection, some at a time: pieces of about so many notes. Raises as ``selected_lines`` does, but
    for a section that none of the lines has.
    """
    piece: list[_Line] = []
    held = 0
    for line in _lines(connection, selection):
        piece.append(line)
        held += len(line[2])
        if held >= notes:
            yield _joined(piece)
            piece, held = [], 0
    if piece:
        yield _joined(piece)


def note_total(connection: sa.Connection, selection: Selection) -> int:
    """How many notes the lines of a selection have; a section is not looked at."""
    conditions, values = selection.conditions()
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    sql = f"SELECT coalesce(sum(t.note_count), 0) FROM transcription t{where}"
    return int(connection.execute(sa.text(sql), values).scalar_one())


def _joined(lines: "Sequence[_Line]") -> SelectedLines:
    ids, names, parts = zip(*lines, strict=True)
    return SelectedLines(join(parts), ids, names)


def _lines(connection: sa.Connection, selection: Selection, without: Sequence[int] = ()) -> "Iterator[_Line]":
    """ID, name and columns of each line. Raises as ``selected_lines`` does."""
    require(connection, selection.ids)
    left_out, is_empty = frozenset(without), True
    for row in _rows(connection, selection):
        if row.id in left_out:
            continue
        is_empty = False
        bars, chords, sections = unpack_layout(row.layout)
        functions = None
        if row.functions is not None:
            functions = FunctionText(row.functions, unpack_indexes(row.chord_indexes))
        texts = LineTexts(row.interval, row.role, row.movement, row.degree, functions)
        form = parse_form(row.form) if row.form else None
        columns = line_columns(note_columns(row.notes), texts, bars, chords, form)
        if selection.section:
            wanted = selection.section.casefold()
            spans = [(s.onset_ticks, s.end_ticks) for s in sections if s.label.casefold() == wanted]
            columns = _inside(columns, spans)
        yield row.id, f"{row.title}, {row.player}" if row.player else row.title, columns
    if is_empty:
        raise QueryError("no transcription is selected: 'wellworn list' shows what there is")


def shape_coverage(connection: sa.Connection, lines: SelectedLines) -> "dict[str, NDArray[np.bool_]]":
    """For each kind of named shape which notes of the columns belong to one.

    Shapes are not stored: every line is analysed, which takes some hundredths of a second a chorus.
    """
    import numpy as np

    from corpus.shapes import KINDS, shapes_of

    found = {kind: np.zeros(len(lines.columns), dtype=bool) for kind in KINDS}
    start = 0
    for _, line in load_many(connection, lines.ids):
        for shape in shapes_of(line):
            found[shape.kind][start + shape.first : start + shape.last + 1] = True
        start += len(line.notes)
    return {PLURALS[kind]: flags for kind, flags in found.items()}


def _inside(columns: Columns, spans: list[tuple[int, int]]) -> Columns:
    import numpy as np

    found = np.zeros(len(columns), dtype=bool)
    for begin, end in spans:
        found |= (columns.onset >= begin) & (columns.onset < end)
    return replace(columns, inside=found)


def _rows(connection: sa.Connection, selection: Selection) -> Any:
    conditions, values = selection.conditions()
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    sql = (
        "SELECT t.id, t.title, t.player, t.form, r.interval, r.role, r.movement, r.degree, l.notes, l.layout, "
        "h.functions, h.chord_indexes FROM transcription t "
        "JOIN line l ON l.transcription_id = t.id JOIN reading r ON r.transcription_id = t.id "
        f"LEFT JOIN harmony h ON h.transcription_id = t.id AND h.level = 0{where} ORDER BY t.id"
    )
    return connection.execute(sa.text(sql), values)
