"""A bounded history of what was changed in corpus and shelf, so that ``db.undo`` can go back.

Each change writes, in its own transaction, which rows it made and how those were that it took away or changed. Only
what cannot be made again is kept: sources, transcriptions, packed notes, kept figures with sources and practice, links
from kept figures to lines; readings and functions follow from the notes. The changes of one command (an ``add`` of a
folder is a transaction a file) share a *deed* and are undone together.

Not in the history: repairs by ``doctor``, ``restore``, upgrades, kept families (which are found anew).
"""

import base64
import json
import os
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any, Final

import sqlalchemy as sa

from db.schema import (
    HistoryRow,
    LineRow,
    PracticeRow,
    ShelfFigureRow,
    ShelfSourceRow,
    Source,
    TranscriptionRow,
)

MOST_COMMANDS: Final = 50
MOST_BYTES: Final = 32 * 1024 * 1024
"""The history holds at most so many commands, and so many bytes; a command that alone needs more cannot be undone."""
_WORTH_COUNTING_BYTES: Final = 100_000
_IDS_AT_ONCE: Final = 500
_NAMED: Final = 3

TABLES: Final[Mapping[str, sa.Table]] = {
    model.__tablename__: model.__table__  # type: ignore[misc]
    for model in (Source, TranscriptionRow, LineRow, ShelfFigureRow, ShelfSourceRow, PracticeRow)
}
"""The tables whose rows are kept, parents before children."""

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Deed:
    """A command in the doing: its name, and what its changes are known by."""

    command: str
    code: str = field(default_factory=lambda: os.urandom(8).hex())


@dataclass(frozen=True, slots=True)
class Content:
    """What a change did, by table: IDs of rows that it ``made``, rows that are ``gone``, changed rows as they ``were``.

    ``links`` are links from sources of kept figures that it cut: ID, transcription, first and last note.
    """

    made: Mapping[str, Sequence[int]] = field(default_factory=dict)
    gone: Mapping[str, Sequence[Row]] = field(default_factory=dict)
    were: Mapping[str, Sequence[Row]] = field(default_factory=dict)
    links: Sequence[Sequence[int]] = ()

    def keys(self) -> set[tuple[str, int]]:
        """The sources, transcriptions and kept figures concerned."""
        found = {(table, identity) for table, ids in self.made.items() for identity in ids}
        for rows_by_table in (self.gone, self.were):
            found |= {(t, row["id"]) for t, rows in rows_by_table.items() for row in rows if "id" in row}
        return {key for key in found if key[0] in ("source", "transcription", "shelf_figure")}


def rows_of(connection: sa.Connection, table: sa.Table, column: Any, ids: Sequence[int]) -> list[Row]:
    """The rows of a table whose ``column`` is one of ``ids``, in the order of their keys."""
    found: list[Row] = []
    for start in range(0, len(ids), _IDS_AT_ONCE):
        query = sa.select(table).where(column.in_(ids[start : start + _IDS_AT_ONCE])).order_by(*table.primary_key)
        found += [dict(row) for row in connection.execute(query).mappings()]
    return found


def links_to(connection: sa.Connection, ids: Sequence[int]) -> list[Sequence[int]]:
    """Links from kept figures to lines: ID of the source, transcription, first and last note."""
    table = TABLES["shelf_source"]
    rows = rows_of(connection, table, table.c.transcription_id, ids)
    return [[row["id"], row["transcription_id"], row["first"], row["last"]] for row in rows]


def whole_sources(connection: sa.Connection, ids: Sequence[int]) -> Content:
    """Sources with all their lines, as what will be gone."""
    lines = rows_of(connection, TABLES["transcription"], TranscriptionRow.source_id, ids)
    notes = rows_of(connection, TABLES["line"], LineRow.transcription_id, [row["id"] for row in lines])
    return Content(
        gone={"source": rows_of(connection, TABLES["source"], Source.id, ids), "transcription": lines, "line": notes}
    )


def lines_before(connection: sa.Connection, ids: Sequence[int]) -> Content:
    """Lines, and the links to them from kept figures, as what will be gone."""
    lines = rows_of(connection, TABLES["transcription"], TranscriptionRow.id, ids)
    notes = rows_of(connection, TABLES["line"], LineRow.transcription_id, ids)
    return Content(gone={"transcription": lines, "line": notes}, links=links_to(connection, ids))


def replacement(before: Content, source_id: int, ids: Sequence[int], links: Sequence[Sequence[int]]) -> Content:
    """What a file's new state did: lines that go on under their ID were changed, the others are made or gone.

    ``before`` are its older states, none for a new file; ``ids`` its lines now.
    """
    follow = set(ids)
    gone: dict[str, list[Row]] = {"source": list(before.gone.get("source", ()))}
    were: dict[str, list[Row]] = {}
    for table, key in (("transcription", "id"), ("line", "transcription_id")):
        for row in before.gone.get(table, ()):
            (were if row[key] in follow else gone).setdefault(table, []).append(row)
    went_on = {row["id"] for row in were.get("transcription", ())}
    made = {"source": [source_id], "transcription": [identity for identity in ids if identity not in went_on]}
    return Content(made, gone, were, links)


def record(connection: sa.Connection, deed: Deed, words: str, content: Content) -> None:
    """Keep a change, inside its transaction; ``words`` say what was changed."""
    packed: bytes | None = pack(content)
    assert packed is not None
    is_first = connection.execute(sa.select(HistoryRow.id).where(HistoryRow.deed == deed.code).limit(1)).first() is None
    row = {"deed": deed.code, "command": deed.command, "words": words, "made_at": datetime.now(UTC)}
    connection.execute(sa.insert(HistoryRow).values(**row, content=packed))
    if is_first or len(packed) > _WORTH_COUNTING_BYTES:
        _keep_small(connection, deed)


def _keep_small(connection: sa.Connection, newest: Deed) -> None:
    """Forget the oldest commands beyond the bounds; of a command that alone is too large keep the words only."""
    size = sa.func.coalesce(sa.func.sum(sa.func.length(HistoryRow.content)), 0)
    query = sa.select(HistoryRow.deed, size).group_by(HistoryRow.deed).order_by(sa.func.max(HistoryRow.id).desc())
    total, forgotten = 0, []
    for number, (code, count) in enumerate(connection.execute(query)):
        total += count
        if code == newest.code and count > MOST_BYTES:
            # What came before can only be undone after it, so that is out of reach as well.
            connection.execute(sa.update(HistoryRow).where(HistoryRow.deed == code).values(content=None))
        elif number >= MOST_COMMANDS or total > MOST_BYTES:
            forgotten.append(code)
    for start in range(0, len(forgotten), _IDS_AT_ONCE):
        connection.execute(sa.delete(HistoryRow).where(HistoryRow.deed.in_(forgotten[start : start + _IDS_AT_ONCE])))


def pack(content: Content) -> bytes:
    """A content as compressed JSON."""
    fields = {
        "made": content.made,
        "gone": {table: [_encoded(table, row) for row in rows] for table, rows in content.gone.items()},
        "were": {table: [_encoded(table, row) for row in rows] for table, rows in content.were.items()},
        "links": content.links,
    }
    kept = {name: value for name, value in fields.items() if value}
    return zlib.compress(json.dumps(kept, separators=(",", ":"), ensure_ascii=False).encode(), 6)


def unpack(packed: bytes) -> Content:
    """The content that ``pack`` packed."""
    fields = json.loads(zlib.decompress(packed))
    rows = {
        name: {table: [_decoded(table, row) for row in rows] for table, rows in fields.get(name, {}).items()}
        for name in ("gone", "were")
    }
    return Content(fields.get("made", {}), rows["gone"], rows["were"], fields.get("links", []))


def _encoded(table: str, row: Row) -> dict[str, Any]:
    return {name: _as_json(value) for name, value in row.items() if name in TABLES[table].c}


def _as_json(value: Any) -> Any:
    if isinstance(value, bytes):
        return base64.b64encode(value).decode()
    return value.isoformat() if isinstance(value, date) else value


def _decoded(table: str, row: Row) -> dict[str, Any]:
    return {name: _from_json(TABLES[table].c[name].type, value) for name, value in row.items()}


def _from_json(kind: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(kind, sa.LargeBinary):
        return base64.b64decode(value)
    if isinstance(kind, sa.DateTime):
        return datetime.fromisoformat(value)
    return date.fromisoformat(value) if isinstance(kind, sa.Date) else value


def named(names: Iterable[str]) -> str:
    """The first of some names, and how many more there are."""
    listed = list(names)
    more = f" and {len(listed) - _NAMED:,} more" if len(listed) > _NAMED else ""
    return ", ".join(listed[:_NAMED]) + more
