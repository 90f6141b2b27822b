"""Families by the code they are known by, among those that are kept and still true of the lines."""

import re
from typing import TYPE_CHECKING, Final

import sqlalchemy as sa

from corpus.errors import CorpusError
from db.recur import Discovered, Progress, RecurQuestion, kept, recur

if TYPE_CHECKING:
    from db.connection import Database
    from db.families import KeptFamily

_CODE: Final = re.compile(r"[0-9a-f]{6}")


def is_code(text: str) -> bool:
    """Whether a text looks like the code of a family: six hexadecimal digits."""
    return _CODE.fullmatch(text.strip().casefold()) is not None


def kept_family_of(connection: sa.Connection, code: str) -> "tuple[KeptFamily, Discovered, RecurQuestion] | None":
    """A family by its code, the discovery it belongs to and what that was asked; None where none is kept.

    Of several discoveries that found it that over most lines is taken; one whose lines have changed does not count.
    """
    sql = (
        "SELECT d.asked FROM family f JOIN discovery d ON d.id = f.discovery_id WHERE f.code = :code "
        "ORDER BY d.line_count DESC, d.id"
    )
    for asked in connection.execute(sa.text(sql), {"code": code.strip().casefold()}).scalars():
        question = RecurQuestion.from_text(asked)
        discovered = kept(connection, question)
        if discovered is None:
            continue
        for family in discovered.families:
            if family.code == code.strip().casefold():
                return family, discovered, question
    return None


def family_of(
    database: "Database", code: str, progress: Progress | None = None
) -> "tuple[KeptFamily, Discovered, RecurQuestion]":
    """A family by its code; where none is kept, families are looked for in the whole corpus.

    Raises CorpusError when there is none of that code.
    """
    with database.reading() as connection:
        found = kept_family_of(connection, code)
    if found is not None:
        return found
    question = RecurQuestion()
    discovered = recur(database, question, progress)
    for family in discovered.families:
        if family.code == code.strip().casefold():
            return family, discovered, question
    raise CorpusError(f"there is no family {code[:20]!r} among those found: 'wellworn recur' shows their codes")
