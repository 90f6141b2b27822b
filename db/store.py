"""Adding and removing: every change is one transaction.

``prepare`` does the costly part (readings, packing) without a database, so that it can run in another process.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from typing import Any, Literal

import sqlalchemy as sa

from corpus.errors import AlreadyThereError, CorpusError
from corpus.form import parse_form
from corpus.harmony.complete import checked_again
from corpus.model import Transcription
from corpus.pitch import parse_key
from corpus.readings import READING_NAMES, HarmonicColumns, all_readings, line_of
from db.catalogue import load, load_many, require
from db.connection import Database
from db.history import Content, Deed, lines_before, links_to, named, record, replacement, whole_sources
from db.packing import pack_indexes, pack_layout, pack_notes
from db.replacing import EDITABLE, OldLine, PreparedLine, match_lines
from db.schema import HarmonyRow, LineRow, ReadingRow, ShelfSourceRow, Source, TranscriptionRow


@dataclass(frozen=True, slots=True)
class SourceFile:
    """What identifies a file: its name, the part asked for, and a hash of its bytes and of the wishes.

    ``chart`` is the text of the chart that is laid over its lines, empty for none.
    """

    name: str
    content_hash: str
    part: str
    byte_count: int
    chart: str = ""


@dataclass(frozen=True, slots=True)
class Known:
    """What the database knows of a file: the ``same`` content, an older state of it (``changed``), or nothing."""

    state: Literal["new", "same", "changed"]
    name: str = ""
    added_at: datetime | None = None
    refused: tuple[tuple[str, str], ...] = ()
    chart: str = ""


@dataclass(frozen=True, slots=True)
class Stored:
    """What became of a file: the IDs of its lines, and lines of its older state that none of the new ones follows."""

    ids: tuple[int, ...]
    gone: tuple[OldLine, ...] = ()


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


def _harmony(transcription: Transcription) -> tuple[HarmonicColumns | None, list[tuple[str, bytes, str]]]:
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
    onsets = [note.onset_ticks for note in transcription.notes]
    return columns, [
        (text.text, pack_indexes(text.chord_indexes), text.silences(transcription.chords, onsets)) for text in texts
    ]


def known(connection: sa.Connection, source: SourceFile) -> Known:
    """What the database knows of a file. The same content under the same name with another chart is a change."""
    columns = (Source.name, Source.added_at, Source.refused, Source.chart)
    same = connection.execute(sa.select(*columns).where(Source.content_hash == source.content_hash)).first()
    if same is not None:
        is_recharted = source.chart not in ("", same.chart) and same.name == source.name
        refused = tuple((label, reason) for label, reason in same.refused)
        return Known("changed" if is_recharted else "same", same.name, same.added_at, refused, same.chart)
    older = connection.execute(
        sa.select(*columns).where(Source.name == source.name, Source.part == source.part).order_by(Source.id.desc())
    ).first()
    return Known("new") if older is None else Known("changed", older.name, older.added_at, chart=older.chart)


def other_parts(connection: sa.Connection, name: str, part: str, byte_count: int | None = None) -> list[str]:
    """Other parts than ``part`` of files of a name (or a size), as they were asked for when these were added."""
    is_candidate = Source.name == name
    if byte_count is not None:
        is_candidate = sa.or_(is_candidate, Source.byte_count == byte_count)
    query = sa.select(Source.part).where(is_candidate, Source.part != part).distinct().order_by(Source.part)
    return list(connection.execute(query).scalars())


def add_source(
    database: Database,
    source: SourceFile,
    lines: Sequence[PreparedLine],
    collection: str,
    replace_older: bool = False,
    refused: Sequence[tuple[str, str]] = (),
    deed: Deed | None = None,
) -> Stored:
    """Store a file's lines in one transaction; ``refused`` are label and reason of pieces that could not be read.

    With ``replace_older`` an older state of the same file makes way (see ``db.replacing``). ``deed`` is the command
    that this is part of. Raises AlreadyThereError when the content is there already, CorpusError when an older state
    is in the way.
    """
    with database.writing() as connection:
        state = known(connection, source)
        if state.state == "same":
            raise AlreadyThereError(f"already there as {state.name}")
        old: list[OldLine] = []
        before = Content()
        if state.state == "changed":
            if not replace_older:
                raise CorpusError(f"{source.name} has changed since it was added: replace it with --replace")
            before = _states_of(connection, source)
            old = _take_out(connection, source)
        source_id = connection.execute(
            sa.insert(Source)
            .values(**asdict(source), added_at=datetime.now(UTC), refused=[list(pair) for pair in refused])
            .returning(Source.id)
        ).scalar_one()
        successors = match_lines(old, lines)
        ids = _insert_lines(connection, source_id, lines, collection, old, successors)
        kept = {line.id for line in successors if line is not None}
        gone = tuple(line for line in old if line.id not in kept)
        links = links_to(connection, [line.id for line in gone])
        unlink_sources(connection, [line.id for line in gone])
        titles = named(f"{i} {line.columns['title']}" for i, line in zip(ids, lines, strict=True))
        content = replacement(before, source_id, ids, links)
        record(connection, deed or Deed("add"), f"{source.name}: {titles}", content)
        return Stored(tuple(ids), gone)


def _states_of(connection: sa.Connection, source: SourceFile) -> Content:
    """The older states of a file, for the history."""
    where = (Source.name == source.name, Source.part == source.part)
    return whole_sources(connection, connection.execute(sa.select(Source.id).where(*where)).scalars().all())


def _insert_lines(
    connection: sa.Connection,
    source_id: int,
    lines: Sequence[PreparedLine],
    collection: str,
    old: Sequence[OldLine],
    successors: Sequence[OldLine | None],
) -> list[int]:
    newest = connection.execute(sa.select(sa.func.coalesce(sa.func.max(TranscriptionRow.id), 0))).scalar_one()
    following = max([newest, *(line.id for line in old)])
    rows, line_rows, reading_rows, harmony_rows, ids = [], [], [], [], []
    for position, (line, before) in enumerate(zip(lines, successors, strict=True)):
        following += before is None
        identity = following if before is None else before.id
        ids.append(identity)
        known_of_it = {**line.columns, "collection": collection}
        columns = known_of_it if before is None else before.carried_over(known_of_it)
        edited = {"set": {}, "was": {}} if before is None else before.edited
        rows.append({"id": identity, "source_id": source_id, "position": position, **columns, "edited": edited})
        line_rows.append({"transcription_id": identity, "notes": line.notes, "layout": line.layout})
        reading_rows.append({"transcription_id": identity, **line.readings})
        harmony_rows += _harmony_rows(identity, line)
    if rows:
        connection.execute(sa.insert(TranscriptionRow), rows)
        connection.execute(sa.insert(LineRow), line_rows)
        connection.execute(sa.insert(ReadingRow), reading_rows)
    if harmony_rows:
        connection.execute(sa.insert(HarmonyRow), harmony_rows)
    for row, line in zip(rows, lines, strict=True):
        changed = {str(name): row[name] for name in ("key", "form") if row[name] != line.columns[name]}
        if changed:
            derive_again(connection, row["id"], changed, line.columns["form"])
    return ids


def derive_again(connection: sa.Connection, identity: int, changed: Mapping[str, str], form_before: str) -> None:
    """A new key or form (as text, empty for none) changes degrees, choruses and sections: store the line anew.

    ``form_before`` is the form that the stored sections may have come from.
    """
    from corpus.rework import with_form, with_key

    _, line = load(connection, identity)
    before = parse_form(form_before) if form_before else None
    line = replace(line, details=replace(line.details, form=before))
    if "key" in changed:
        line = with_key(line, parse_key(changed["key"]) if changed["key"] else None)
    if "form" in changed:
        line = with_form(line, parse_form(changed["form"]) if changed["form"] else None)
    store_derived(connection, identity, checked_again(line))


def _harmony_rows(identity: int, line: PreparedLine) -> list[dict[str, Any]]:
    return [
        {
            "transcription_id": identity,
            "level": level,
            "functions": text,
            "chord_indexes": indexes,
            "silences": silences,
        }
        for level, (text, indexes, silences) in enumerate(line.functions)
    ]


def _take_out(connection: sa.Connection, source: SourceFile) -> list[OldLine]:
    """Remove older states of a file; returns what was known of their lines."""
    where = (Source.name == source.name, Source.part == source.part)
    table = TranscriptionRow.__table__
    rows = connection.execute(
        sa.select(table, ReadingRow.interval)
        .join(Source, Source.id == table.c.source_id)
        .join(ReadingRow, ReadingRow.transcription_id == table.c.id)
        .where(*where)
        .order_by(table.c.position)
    ).all()
    old = [OldLine(row.id, row.interval, {name: getattr(row, name) for name in EDITABLE}, row.edited) for row in rows]
    delete_lines(connection, [line.id for line in old])
    connection.execute(sa.delete(Source).where(*where))
    return old


def delete_lines(connection: sa.Connection, ids: Sequence[int]) -> None:
    """Take lines out of every table and index."""
    # Readings first and by name: their trigger takes them out of the trigram indexes.
    for model, column in (
        (ReadingRow, ReadingRow.transcription_id),
        (HarmonyRow, HarmonyRow.transcription_id),
        (LineRow, LineRow.transcription_id),
        (TranscriptionRow, TranscriptionRow.id),
    ):
        for start in range(0, len(ids), 500):
            connection.execute(sa.delete(model).where(column.in_(ids[start : start + 500])))


def unlink_sources(connection: sa.Connection, ids: Sequence[int]) -> None:
    """Kept figures that came from lines that are gone keep the words and lose the link: an ID may be given again."""
    for start in range(0, len(ids), 500):
        where = ShelfSourceRow.transcription_id.in_(ids[start : start + 500])
        connection.execute(sa.update(ShelfSourceRow).where(where).values(transcription_id=None, first=None, last=None))


def remove(database: Database, ids: Sequence[int]) -> int:
    """Remove transcriptions, and sources that then hold none; returns how many. Raises CorpusError for unknown IDs."""
    unique = list(dict.fromkeys(ids))
    with database.writing() as connection:
        require(connection, unique)
        content = lines_before(connection, unique)
        delete_lines(connection, unique)
        unlink_sources(connection, unique)
        is_empty = Source.id.not_in(sa.select(TranscriptionRow.source_id))
        empty = connection.execute(sa.select(Source.id).where(is_empty)).scalars().all()
        content = replace(content, gone={**whole_sources(connection, empty).gone, **content.gone})
        connection.execute(sa.delete(Source).where(is_empty))
        titles = named(f"{row['id']} {row['title']}" for row in content.gone["transcription"])
        record(connection, Deed("remove"), titles, content)
    return len(unique)


def store_again(connection: sa.Connection) -> None:
    """Derive anew what follows from the stored lines: after an upgrade of the schema."""
    ids = connection.execute(sa.select(TranscriptionRow.id).order_by(TranscriptionRow.id)).scalars().all()
    for identity, transcription in load_many(connection, ids):
        store_derived(connection, identity, transcription)


def store_derived(connection: sa.Connection, identity: int, transcription: Transcription) -> None:
    """Store a line's notes and readings in the place of those that are there, and what follows from them."""
    line = prepare(transcription)
    connection.execute(
        sa.update(LineRow).where(LineRow.transcription_id == identity).values(notes=line.notes, layout=line.layout)
    )
    connection.execute(sa.update(ReadingRow).where(ReadingRow.transcription_id == identity).values(**line.readings))
    connection.execute(sa.delete(HarmonyRow).where(HarmonyRow.transcription_id == identity))
    insert_functions(connection, identity, line)


def insert_functions(connection: sa.Connection, identity: int, line: PreparedLine) -> None:
    """Store the functions of a line that has none yet."""
    if line.functions:
        connection.execute(sa.insert(HarmonyRow), _harmony_rows(identity, line))
