"""The lines of a selection as columns for a profile, from what is stored: no line is analysed again."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

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
    require(connection, selection.ids)
    parts, ids, names = [], [], []
    left_out = frozenset(without)
    for row in _rows(connection, selection):
        if row.id in left_out:
            continue
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
        parts.append(columns)
        ids.append(row.id)
        names.append(f"{row.title}, {row.player}" if row.player else row.title)
    if not parts:
        raise QueryError("no transcription is selected: 'wellworn list' shows what there is")
    joined = join(parts)
    if selection.section and not joined.inside.any():
        raise QueryError(f"none of the lines selected has a note in a section {selection.section!r}")
    return SelectedLines(joined, tuple(ids), tuple(names))


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
