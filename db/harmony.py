"""Harmony in the database: the stored functions and roles of lines, and the lines over a progression."""

from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate
from typing import TYPE_CHECKING

from corpus.errors import QueryError
from corpus.match.context import Context, LineHarmony
from db.catalogue import Selection
from db.dialect import dialect_of
from db.packing import unpack_indexes
from db.readers import Reader, rows_of

if TYPE_CHECKING:
    from corpus.harmony.over import Progression

_IDS_AT_ONCE = 500


def stored_harmonies(connection: Reader, ids: Sequence[int], level: int) -> dict[int, LineHarmony]:
    """The functions at a level and the roles of lines, by ID; lines without chords are left out."""
    from corpus.harmony.over import FunctionText

    found: dict[int, LineHarmony] = {}
    for start in range(0, len(ids), _IDS_AT_ONCE):
        listed = ", ".join(str(int(identity)) for identity in ids[start : start + _IDS_AT_ONCE])
        sql = (
            "SELECT h.transcription_id, h.functions, h.chord_indexes, r.role FROM harmony h "
            "JOIN reading r ON r.transcription_id = h.transcription_id "
            f"WHERE h.level = :level AND h.transcription_id IN ({listed})"
        )
        for identity, functions, indexes, roles in rows_of(connection, sql, {"level": level}):
            found[identity] = LineHarmony(FunctionText(functions, unpack_indexes(indexes)), roles)
    return found


def ids_over(connection: Reader, context: Context, selection: Selection) -> list[tuple[int, int]]:
    """IDs of the selected lines in which the context's progression stands, and how often.

    All functions of the corpus are searched as one text, those that several lines share once: one pass of a regular
    expression, without unpacking a line. Places at which no note of a line starts are not counted.
    """
    from corpus.harmony.over import SILENT

    if context.over is None:
        raise QueryError("no progression is asked for")
    conditions, values = selection.conditions()
    join = " JOIN transcription t ON t.id = h.transcription_id" if conditions else ""
    where = " AND ".join(["h.level = :level", *conditions])
    # Three long texts are read three times as fast as a row a line.
    joined = dialect_of(connection).joined
    columns = ", ".join(joined(f"h.{name}") for name in ("transcription_id", "functions", "silences"))
    sql = f"SELECT {columns} FROM harmony h{join} WHERE {where}"
    row = rows_of(connection, sql, {**values, "level": context.level}).one()
    if row[0] is None:
        return []
    identities, functions, silences = (text.split("\n") for text in row)
    places = _places(context.over, list(dict.fromkeys(functions)))
    silent = SILENT * len(context.over)
    counted: list[tuple[int, int]] = []
    for identity, text, marks in zip(identities, functions, silences, strict=True):
        found = places.get(text)
        if found is None:
            continue
        count = len(found)
        if silent in marks:
            count = sum(not marks.startswith(silent, place) for place in found)
        if count:
            counted.append((int(identity), count))
    counted.sort()
    return counted


def _places(progression: "Progression", texts: Sequence[str]) -> dict[str, list[int]]:
    """The places of a progression in each of the texts that have any."""
    starts = [0, *accumulate(len(text) + 1 for text in texts)]
    found: dict[str, list[int]] = {}
    for place in progression.places("\n".join(texts)):
        number = bisect_right(starts, place) - 1
        found.setdefault(texts[number], []).append(place - starts[number])
    return found
