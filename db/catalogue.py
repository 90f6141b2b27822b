"""What is in the database: listing and loading transcriptions, and the filters that every question shares.

SQL is written out, with bound values: queries are built apart from running them, so that they can be printed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from corpus.errors import CorpusError, QueryError
from corpus.form import parse_form
from corpus.model import Details, Meter, Transcription
from corpus.pitch import parse_key
from db.packing import unpack
from db.readers import Reader, rows_of

_COLUMNS = (
    "t.id, t.title, t.player, t.collection, t.instrument, t.recording, t.year, t.tempo_bpm, t.key, t.meter, t.form, "
    "t.note_count, t.bar_count, s.name AS source"
)
_FROM = "transcription t JOIN source s ON s.id = t.source_id"
_IDS_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Selection:
    """Which transcriptions a question is about. Texts match any part of the field, without regard to case.

    ``section`` is a section's whole name; ranges include both ends, None is open.
    """

    ids: tuple[int, ...] = ()
    player: str = ""
    tune: str = ""
    collection: str = ""
    section: str = ""
    tempo: tuple[float | None, float | None] = (None, None)
    year: tuple[int | None, int | None] = (None, None)

    def conditions(self) -> tuple[list[str], dict[str, Any]]:
        """SQL conditions on ``transcription t`` and their values; the section is not among them."""
        conditions: list[str] = []
        values: dict[str, Any] = {}
        for column, wanted in (("player", self.player), ("title", self.tune), ("collection", self.collection)):
            if wanted:
                conditions.append(f"instr(wellworn_casefold(t.{column}), wellworn_casefold(:{column})) > 0")
                values[column] = wanted.casefold()
        for column, (low, high) in (("tempo_bpm", self.tempo), ("year", self.year)):
            for suffix, sign, bound in (("low", ">=", low), ("high", "<=", high)):
                if bound is not None:
                    conditions.append(f"t.{column} {sign} :{column}_{suffix}")
                    values[f"{column}_{suffix}"] = bound
        if self.ids:
            conditions.append(f"t.id IN ({', '.join(str(int(identity)) for identity in self.ids)})")
        return conditions, values


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the list: what is known about a transcription besides its notes."""

    id: int
    details: Details
    collection: str
    source: str
    note_count: int
    bar_count: int


def _entry(row: Any) -> Entry:
    details = Details(
        title=row.title,
        player=row.player,
        instrument=row.instrument,
        recording=row.recording,
        year=row.year,
        tempo_bpm=row.tempo_bpm,
        key=parse_key(row.key) if row.key else None,
        meter=Meter(*map(int, row.meter.split("/"))) if row.meter else None,
        form=parse_form(row.form) if row.form else None,
    )
    return Entry(row.id, details, row.collection, row.source, row.note_count, row.bar_count)


def _where(conditions: Sequence[str]) -> str:
    return f" WHERE {' AND '.join(conditions)}" if conditions else ""


def entries(connection: Reader, selection: Selection, limit: int | None = None) -> tuple[list[Entry], int]:
    """The transcriptions selected, by ID, at most ``limit``, and how many there are in all."""
    conditions, values = selection.conditions()
    if selection.section:
        raise QueryError("a list of transcriptions cannot be cut to a section: leave --section out")
    total = rows_of(connection, f"SELECT count(*) FROM {_FROM}{_where(conditions)}", values).scalar_one()
    sql = f"SELECT {_COLUMNS} FROM {_FROM}{_where(conditions)} ORDER BY t.id"
    if limit is not None:
        sql, values = f"{sql} LIMIT :most", {**values, "most": limit}
    rows = rows_of(connection, sql, values)
    return [_entry(row) for row in rows], total


def load_many(connection: Reader, ids: Sequence[int]) -> Iterator[tuple[int, Transcription]]:
    """Transcriptions by ID, in the order asked for; unknown IDs are left out."""
    for identity, (_, transcription) in load_entries(connection, ids):
        yield identity, transcription


def load_entries(connection: Reader, ids: Sequence[int]) -> Iterator[tuple[int, tuple[Entry, Transcription]]]:
    """Entries and transcriptions by ID, in the order asked for; unknown IDs are left out."""
    for start in range(0, len(ids), _IDS_AT_ONCE):
        chunk = ids[start : start + _IDS_AT_ONCE]
        # One line is asked for in the same words every time, so that SQLite need not read them anew.
        is_one = len(chunk) == 1
        wanted = "= :only" if is_one else f"IN ({', '.join(str(int(identity)) for identity in chunk)})"
        sql = (
            f"SELECT {_COLUMNS}, l.notes, l.layout FROM {_FROM} JOIN line l ON l.transcription_id = t.id "
            f"WHERE t.id {wanted}"
        )
        found = {row.id: row for row in rows_of(connection, sql, {"only": int(chunk[0])} if is_one else {})}
        for identity in chunk:
            if identity in found:
                row = found[identity]
                entry = _entry(row)
                yield identity, (entry, unpack(entry.details, row.notes, row.layout))


def packed_pitches(connection: Reader, ids: Sequence[int]) -> Iterator[tuple[int, bytes, str]]:
    """The packed notes and the interval reading of lines by ID, in no order; unknown IDs are left out."""
    for start in range(0, len(ids), _IDS_AT_ONCE):
        listed = ", ".join(str(int(identity)) for identity in ids[start : start + _IDS_AT_ONCE])
        sql = (
            "SELECT l.transcription_id, l.notes, r.interval FROM line l "
            f"JOIN reading r ON r.transcription_id = l.transcription_id WHERE l.transcription_id IN ({listed})"
        )
        for identity, notes, intervals in rows_of(connection, sql):
            yield int(identity), bytes(notes), intervals


def load(connection: Reader, identity: int) -> tuple[Entry, Transcription]:
    """One transcription. Raises CorpusError when there is none of that ID."""
    for _, loaded in load_entries(connection, [identity]):
        return loaded
    raise unknown_id(identity)


def require(connection: Reader, ids: Sequence[int]) -> None:
    """Raises CorpusError when an ID belongs to no transcription."""
    found: set[int] = set()
    for start in range(0, len(ids), _IDS_AT_ONCE):
        listed = ", ".join(str(int(identity)) for identity in ids[start : start + _IDS_AT_ONCE])
        found.update(row.id for row in rows_of(connection, f"SELECT id FROM transcription WHERE id IN ({listed})"))
    missing = [identity for identity in ids if identity not in found]
    if missing:
        raise unknown_id(missing[0])


def unknown_id(identity: int) -> CorpusError:
    """The error for an ID that no transcription has."""
    return CorpusError(f"there is no transcription {identity}: 'wellworn list' shows the IDs")
