"""What checks of a database speak in: what was found wrong, and what a database is made of."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "file",
    "tables",
    "schema",
    "index",
    "sources",
    "derived",
    "orphans",
    "lost",
    "families",
    "links",
    "shelf",
    "history",
]


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something found: in words; ``ids`` are the rows concerned.

    ``is_wrong`` is False for what may be so and is only told; ``is_mendable`` says whether ``db.mend`` can see to it.
    """

    kind: Kind
    words: str
    ids: tuple[int, ...] = ()
    is_mendable: bool = False
    is_wrong: bool = True


@dataclass(frozen=True, slots=True)
class Made:
    """A trigger, index, view, function or table as the newest schema makes it."""

    kind: str
    name: str
    sql: str
