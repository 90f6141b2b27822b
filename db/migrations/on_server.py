"""What migrations do otherwise on PostgreSQL: the extension pg_trgm, trigram indexes, functions.

pg_trgm keeps its indexes itself, so there are no triggers; the functions let queries be the same text for SQLite.
"""

from collections.abc import Sequence
from typing import Any, Final

import sqlalchemy as sa
from alembic import op

from corpus.errors import CorpusError


def is_server() -> bool:
    """Whether the migration runs on PostgreSQL."""
    return op.get_bind().dialect.name == "postgresql"


def prepare_server(connection: sa.Connection) -> None:
    """What must be there before the first table. Raises CorpusError, with what to do, where the server refuses."""
    encoding = connection.exec_driver_sql("SHOW server_encoding").scalar_one()
    if encoding != "UTF8":
        raise CorpusError(
            f"this database keeps texts as {encoding}, and names and functions need UTF8: "
            "make one with createdb --encoding=UTF8 --template=template0"
        )
    if connection.exec_driver_sql("SELECT current_schema()").scalar_one() is None:
        raise CorpusError("no schema of the search path is there: make one (CREATE SCHEMA …), or mend the URL")
    _make_extension(connection)
    for function in FUNCTIONS:
        connection.exec_driver_sql(function)


def _make_extension(connection: sa.Connection) -> None:
    there = "SELECT 1 FROM pg_extension WHERE extname = 'pg_trgm'"
    if connection.exec_driver_sql(there).first() is not None:
        return
    can_be = "SELECT 1 FROM pg_available_extensions WHERE name = 'pg_trgm'"
    if connection.exec_driver_sql(can_be).first() is None:
        raise CorpusError(
            "the server lacks the extension pg_trgm, which looks figures up: whoever runs it installs it "
            "(it comes with PostgreSQL's contrib package), then try again"
        )
    try:
        connection.exec_driver_sql("CREATE EXTENSION pg_trgm")
    except sa.exc.ProgrammingError as error:
        raise CorpusError(
            "this user may not switch on the extension pg_trgm, which looks figures up: let the database's owner run "
            "CREATE EXTENSION pg_trgm in it, then try again (nothing is changed)"
        ) from error


_FOLDED_TO_ONE: Final = "µſςϐϑϕϖϰϱϵẛ\u1fbe"
_FOLDED_TO_SEVERAL: Final = "ßŉǰﬀﬁﬂﬃﬄﬅﬆ"

FUNCTIONS: Final = (
    # The name and the meaning of SQLite's own.
    "CREATE OR REPLACE FUNCTION instr(whole text, part text) RETURNS integer LANGUAGE sql IMMUTABLE PARALLEL SAFE "
    "AS 'SELECT strpos(whole, part)'",
    # What Python's str.casefold makes of SQLite's texts: more than small letters. Letters that fold to several are
    # those of names and of old typesetting; polytonic Greek and Armenian ligatures stay as they are.
    "CREATE OR REPLACE FUNCTION wellworn_casefold(whole text) RETURNS text LANGUAGE sql IMMUTABLE PARALLEL SAFE AS "
    "$$SELECT translate("
    + "replace(" * len(_FOLDED_TO_SEVERAL)
    + 'lower(whole COLLATE "und-x-icu")'
    + "".join(f", '{letter}', '{letter.casefold()}')" for letter in _FOLDED_TO_SEVERAL)
    + f", '{_FOLDED_TO_ONE}', '{_FOLDED_TO_ONE.casefold()}')$$",
)


def create_indexes(names: Sequence[str]) -> None:
    """Make the trigram index of each reading, empty or over what is there."""
    home: Any = op.get_bind().exec_driver_sql(
        "SELECT quote_ident(n.nspname) FROM pg_extension e JOIN pg_namespace n ON n.oid = e.extnamespace "
        "WHERE e.extname = 'pg_trgm'"
    )
    schema = home.scalar_one()
    for name in names:
        op.execute(f"CREATE INDEX {name}_index ON reading USING gin ({name} {schema}.gin_trgm_ops)")
