"""Types of columns that mean the same in every kind of database."""

from typing import Final

import sqlalchemy as sa

ID: Final = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
"""An ID: SQLite numbers rows only in a column of type INTEGER."""


def text(length: int | None = None) -> sa.types.TypeEngine[str]:
    """A text. SQLite never looks at the length, so PostgreSQL must not either; both order by code points."""
    return sa.String(length).with_variant(sa.Text(collation="C"), "postgresql")
