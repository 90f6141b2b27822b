"""Adding, replacing, editing and removing: every change is one transaction.

``prepare`` does the costly part (readings, packing) without a database, so that it can run in another process.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any, Final, Literal

import sqlalchemy as sa

from corpus.errors import CorpusError, QueryError
from corpus.form import parse_form
from corpus.model import Transcription
from corpus.pitch import parse_key
from corpus.readings import READING_NAMES, HarmonicColumns, all_readings, line_of
from db.connection import Database
from db.packing import pack_indexes, pack_layout, pack_notes
from db.schema import HarmonyRow, LineRow, ReadingRow, Source, TranscriptionRow

_EDITABLE: Final = ("title", "player", "collection", "instrument", "recording", "year", "tempo_bpm", "key", "form")


@dataclass(frozen=True, slots=True)
class PreparedLine:
    """A transcription as it is stored: column values, readings, packed notes and layout, functions by level."""

    columns: Mapping[str, Any]
    readings: Mapping[str, str]
    notes: bytes
    layout: bytes
    functions: Sequence[tuple[str, bytes]] = ()


@dataclass(frozen=True, slots=True)
class SourceFile:
    """What identifies a file: its name, the part asked for, and a hash of its bytes and of the wishes."""

    name: str
    content_hash: str
    part: str
    byte_count: int


@dataclass(frozen=True, slots=True)
class Known:
    """What the database knows of a file: the ``same`` content, an older state of it (``changed``), or nothing."""

    state: Literal["new", "same", "changed"]
    name: str = ""
    added_at: datetime | None = None


def prepare(transcription: Transcription) -> PreparedLine:
    """Everything that is stored of a transcription; cost: linear in its notes, and a few ms for its chart."""
    details = transcription.details
    columns, functions = _harmony(transcription)
    readings = all_readings(line_of(transcription, columns))
    return PreparedLine(
        columns={
            "title": details.title,
            "player": details.player,
            "instrument": details.instrument,
            "recording": details.recording,
            "year": details.year,
            "tempo_bpm": details.tempo_bpm,
            "key": str(details.key or ""),
            "meter": str(details.meter or ""),
            "form": str(details.form or ""),
            "note_count": len(transcription.notes),
            "bar_count": len(transcription.bars),
        },
        readings={name: readings.plain[name] for name in READING_NAMES}
        | {f"{name}_collapsed": readings.collapsed[name] for name in READING_NAMES},
        notes=pack_notes(transcription),
        layout=pack_layout(transcription),
        functions=functions,
    )


def _harmony(transcription: Transcription) -> tuple[HarmonicColumns | None, list[tuple[str, bytes]]]:
    """Roles and tonics of the notes, and the functions at every level; nothing for a line without chords."""
    if not transcription.chords:
        return None, []
    from corpus.harmony.analysis import analyse
    from corpus.harmony.over import FunctionText
    from corpus.harmony.role_symbols import harmonic_columns
    from corpus.harmony.roles import roles_of

    analysis = analyse(transcription)
    columns = harmonic_columns(transcription, analysis.spans, roles_of(transcription, analysis.spans))
    texts = [FunctionText.of(level) for level in analysis.levels]
    return columns, [(text.text, pack_indexes(text.chord_indexes)) for text in texts]


def known(connection: sa.Connection, source: SourceFile) -> Known:
    """What the database knows of a file."""
    columns = (Source.name, Source.added_at)
    same = connection.execute(sa.select(*columns).where(Source.content_hash == source.content_hash)).first()
    if same is not None:
        return Known("same", same.name, same.added_at)
    older = connection.execute(
        sa.select(*columns).where(Source.name == source.name, Source.part == source.part).order_by(Source.id.desc())
    ).first()
    return Known("new") if older is None else Known("changed", older.name, older.added_at)


def add_source(
    database: Database, source: SourceFile, lines: Sequence[PreparedLine], collection: str, replace_older: bool = False
) -> list[int]:
    """Store a file's lines in one transaction and return their IDs.

    With ``replace_older`` an older state of the same file makes way: line for line the IDs stay, and so do details
    that were edited by hand. Raises CorpusError when the file is there already, or an older state is in the way.
    """
    with database.writing() as connection:
        state = known(connection, source)
        if state.state == "same":
            raise CorpusError(f"{source.name} is there already (as {state.name})")
        kept: dict[int, tuple[int, Mapping[str, Any]]] = {}
        if state.state == "changed":
            if not replace_older:
                raise CorpusError(f"{source.name} has changed since it was added: replace it with --replace")
            kept = _take_out(connection, source)
        source_id = connection.execute(
            sa.insert(Source).values(**asdict(source), added_at=datetime.now(UTC)).returning(Source.id)
        ).scalar_one()
        return _insert_lines(connection, source_id, lines, collection, kept)


def _insert_lines(
    connection: sa.Connection,
    source_id: int,
    lines: Sequence[PreparedLine],
    collection: str,
    kept: Mapping[int, tuple[int, Mapping[str, Any]]],
) -> list[int]:
    newest = connection.execute(sa.select(sa.func.coalesce(sa.func.max(TranscriptionRow.id), 0))).scalar_one()
    following = max([newest, *(old_id for old_id, _ in kept.values())])
    rows, line_rows, reading_rows, harmony_rows, ids = [], [], [], [], []
    for position, line in enumerate(lines):
        edited: Mapping[str, Any] = {}
        if position in kept:
            identity, edited = kept[position]
        else:
            following += 1
            identity = following
        ids.append(identity)
        rows.append(
            {
                "id": identity,
                "source_id": source_id,
                "position": position,
                "collection": collection,
                **line.columns,
                **edited,
                "edited": dict(edited),
            }
        )
        line_rows.append({"transcription_id": identity, "notes": line.notes, "layout": line.layout})
        reading_rows.append({"transcription_id": identity, **line.readings})
        harmony_rows += _harmony_rows(identity, line)
    if rows:
        connection.execute(sa.insert(TranscriptionRow), rows)
        connection.execute(sa.insert(LineRow), line_rows)
        connection.execute(sa.insert(ReadingRow), reading_rows)
    if harmony_rows:
        connection.execute(sa.insert(HarmonyRow), harmony_rows)
    return ids


def _harmony_rows(identity: int, line: PreparedLine) -> list[dict[str, Any]]:
    return [
        {"transcription_id": identity, "level": level, "functions": text, "chord_indexes": indexes}
        for level, (text, indexes) in enumerate(line.functions)
    ]


def _take_out(connection: sa.Connection, source: SourceFile) -> dict[int, tuple[int, Mapping[str, Any]]]:
    """Remove older states of a file; returns ID and hand-edited details by position."""
    where = (Source.name == source.name, Source.part == source.part)
    rows = connection.execute(
        sa.select(TranscriptionRow.position, TranscriptionRow.id, TranscriptionRow.edited)
        .join(Source, Source.id == TranscriptionRow.source_id)
        .where(*where)
    ).all()
    _delete(connection, [row.id for row in rows])
    connection.execute(sa.delete(Source).where(*where))
    return {row.position: (row.id, row.edited) for row in rows}


def _delete(connection: sa.Connection, ids: Sequence[int]) -> None:
    # Readings first and by name: their trigger takes them out of the trigram indexes.
    for model, column in (
        (ReadingRow, ReadingRow.transcription_id),
        (HarmonyRow, HarmonyRow.transcription_id),
        (LineRow, LineRow.transcription_id),
        (TranscriptionRow, TranscriptionRow.id),
    ):
        for start in range(0, len(ids), 500):
            connection.execute(sa.delete(model).where(column.in_(ids[start : start + 500])))


def _require(connection: sa.Connection, ids: Sequence[int]) -> None:
    found: set[int] = set()
    for start in range(0, len(ids), 500):
        chunk = ids[start : start + 500]
        found.update(connection.execute(sa.select(TranscriptionRow.id).where(TranscriptionRow.id.in_(chunk))).scalars())
    missing = [identity for identity in ids if identity not in found]
    if missing:
        raise unknown_id(missing[0])


def unknown_id(identity: int) -> CorpusError:
    """The error for an ID that no transcription has."""
    return CorpusError(f"there is no transcription {identity}: 'wellworn list' shows the IDs")


def remove(database: Database, ids: Sequence[int]) -> int:
    """Remove transcriptions, and sources that then hold none; returns how many. Raises CorpusError for unknown IDs."""
    unique = list(dict.fromkeys(ids))
    with database.writing() as connection:
        _require(connection, unique)
        _delete(connection, unique)
        connection.execute(sa.delete(Source).where(Source.id.not_in(sa.select(TranscriptionRow.source_id))))
    return len(unique)


def edit(database: Database, ids: Sequence[int], changes: Mapping[str, Any]) -> int:
    """Set details of transcriptions by hand; returns how many.

    ``changes`` maps names among title, player, collection, instrument, recording, year, tempo_bpm, key, form to new
    values. Raises CorpusError for unknown IDs, QueryError for an unknown name, key or form.
    """
    from db.catalogue import load_many

    for name in changes:
        if name not in _EDITABLE:
            raise QueryError(f"{name!r} cannot be edited: choose from {', '.join(_EDITABLE)}")
    values = dict(changes)
    if values.get("key"):
        values["key"] = str(parse_key(values["key"]))
    if values.get("form"):
        values["form"] = str(parse_form(values["form"]))
    unique = list(dict.fromkeys(ids))
    with database.writing() as connection:
        _require(connection, unique)
        for identity, transcription in load_many(connection, unique):
            before = connection.execute(
                sa.select(TranscriptionRow.edited).where(TranscriptionRow.id == identity)
            ).scalar_one()
            connection.execute(
                sa.update(TranscriptionRow)
                .where(TranscriptionRow.id == identity)
                .values(**values, edited={**before, **values})
            )
            if "key" in values or "form" in values:
                _read_again(connection, identity, transcription, values)
    return len(unique)


def _read_again(connection: sa.Connection, identity: int, transcription: Transcription, values: dict[str, Any]) -> None:
    """A new key or form changes degrees, choruses and sections: store the line anew."""
    from corpus.rework import with_form, with_key

    if "key" in values:
        transcription = with_key(transcription, parse_key(values["key"]) if values["key"] else None)
    if "form" in values:
        transcription = with_form(transcription, parse_form(values["form"]) if values["form"] else None)
    _store_derived(connection, identity, transcription)


def store_again(connection: sa.Connection) -> None:
    """Derive anew what follows from the stored lines: after an upgrade of the schema."""
    from db.catalogue import load_many

    ids = connection.execute(sa.select(TranscriptionRow.id).order_by(TranscriptionRow.id)).scalars().all()
    for identity, transcription in load_many(connection, ids):
        _store_derived(connection, identity, transcription)


def _store_derived(connection: sa.Connection, identity: int, transcription: Transcription) -> None:
    line = prepare(transcription)
    connection.execute(
        sa.update(LineRow).where(LineRow.transcription_id == identity).values(notes=line.notes, layout=line.layout)
    )
    connection.execute(sa.update(ReadingRow).where(ReadingRow.transcription_id == identity).values(**line.readings))
    connection.execute(sa.delete(HarmonyRow).where(HarmonyRow.transcription_id == identity))
    if line.functions:
        connection.execute(sa.insert(HarmonyRow), _harmony_rows(identity, line))
