"""Kept families after an ``add``: made again where that is a matter of a moment, and counted where it is not.

A kept discovery is known to be outdated by the lines that were added: no hash over the whole corpus is needed. What is
left outdated is made again at the next look (``db.recur``), which never answers with families of other lines.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import sqlalchemy as sa

from corpus.errors import CorpusError, QueryError
from db.catalogue import Selection
from db.connection import Database
from db.recur import RecurQuestion, recur

MOST_NOTES: Final = 30_000
"""Discovery in so many notes takes about a second."""
MOST_SECONDS: Final = 5.0
_IDS_AT_ONCE: Final = 500


@dataclass(frozen=True, slots=True)
class Refreshed:
    """How many kept discoveries that new lines concern were made again, and how many are left for the next look."""

    again: int
    left: int


def refresh(database: Database, ids: Sequence[int]) -> Refreshed:
    """Make kept families again that lines just stored may have changed, the smallest first, for some seconds."""
    with database.reading() as connection:
        concerned = _concerned(connection, ids) if ids else []
    begun, again = time.monotonic(), 0
    for notes, question in concerned:
        if notes > MOST_NOTES or time.monotonic() - begun > MOST_SECONDS:
            break
        try:
            again += recur(database, question).made in ("again", "new")
        except CorpusError:
            # Nothing answers to that question any longer: who asks it again is told so.
            continue
    return Refreshed(again, len(concerned) - again)


def _concerned(connection: sa.Connection, ids: Sequence[int]) -> list[tuple[int, RecurQuestion]]:
    """Kept questions whose lines some of ``ids`` are among, with the notes to look through, the fewest first."""
    found = []
    for asked in connection.execute(sa.text("SELECT asked FROM discovery ORDER BY id")).scalars().all():
        try:
            question = RecurQuestion.from_text(asked)
        except (ValueError, TypeError, KeyError, QueryError):
            # As an older version asked: nobody will ask in these words again, and doctor clears it away.
            continue
        if any(
            _notes(connection, question.selection, ids[i : i + _IDS_AT_ONCE]) for i in range(0, len(ids), _IDS_AT_ONCE)
        ):
            found.append((_notes(connection, question.selection), question))
    return sorted(found, key=lambda entry: entry[0])


def _notes(connection: sa.Connection, selection: Selection, ids: Sequence[int] | None = None) -> int:
    """The notes of the selected lines, or of those among ``ids``."""
    conditions, values = selection.conditions()
    if ids is not None:
        conditions = [*conditions, f"t.id IN ({', '.join(str(int(identity)) for identity in ids)})"]
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    sql = f"SELECT coalesce(sum(t.note_count), 0) FROM transcription t{where}"
    return int(connection.execute(sa.text(sql), values).scalar_one())
