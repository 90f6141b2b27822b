"""Setting details of transcriptions by hand, in one transaction."""

from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa

from corpus.errors import QueryError
from corpus.form import parse_form
from corpus.pitch import parse_key
from db.catalogue import require
from db.connection import Database
from db.history import Content, Deed, lines_before, named, record
from db.replacing import EDITABLE
from db.schema import TranscriptionRow
from db.store import derive_again


def edit(database: Database, ids: Sequence[int], changes: Mapping[str, Any]) -> int:
    """Set details of transcriptions by hand; returns how many.

    ``changes`` maps names among title, player, collection, instrument, recording, year, tempo_bpm, key, form to new
    values, an empty text or None for nothing. Raises CorpusError for unknown IDs, QueryError for an unknown name, key
    or form, and for an empty title.
    """
    values = _checked(changes)
    unique = list(dict.fromkeys(ids))
    table = TranscriptionRow.__table__
    with database.writing() as connection:
        require(connection, unique)
        content = _before(connection, unique, with_notes="key" in values or "form" in values)
        for identity in unique:
            row = connection.execute(sa.select(table).where(table.c.id == identity)).one()
            was = {name: getattr(row, name) for name in values} | row.edited["was"]
            edited = {"set": {**row.edited["set"], **values}, "was": was}
            connection.execute(
                sa.update(TranscriptionRow).where(TranscriptionRow.id == identity).values(**values, edited=edited)
            )
            derived = {str(name): values[name] for name in ("key", "form") if name in values}
            if derived:
                derive_again(connection, identity, derived, row.form)
        titles = named(f"{row['id']} {row['title']}" for row in content.were["transcription"])
        record(connection, Deed("edit"), f"{titles}: {', '.join(values)}", content)
    return len(unique)


def _before(connection: sa.Connection, ids: Sequence[int], with_notes: bool) -> Content:
    """Lines as they are before an edit, for the history; with a new key or form their notes are stored anew too."""
    rows = lines_before(connection, ids).gone
    return Content(were=rows if with_notes else {"transcription": rows["transcription"]})


def _checked(changes: Mapping[str, Any]) -> dict[str, Any]:
    for name in changes:
        if name not in EDITABLE:
            raise QueryError(f"{name!r} cannot be edited: choose from {', '.join(EDITABLE)}")
    values = dict(changes)
    if values.get("key"):
        values["key"] = str(parse_key(values["key"]))
    if values.get("form"):
        values["form"] = str(parse_form(values["form"]))
    if "title" in values and not values["title"].strip():
        raise QueryError("a title cannot be empty: every transcription is called by one")
    return values
