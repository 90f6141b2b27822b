"""PostgreSQL: settings, transactions, the look-up through pg_trgm, its errors in words.

Readers see one state of the database and never wait. Writers take turns, as with SQLite: each holds an advisory lock
of its schema for one transaction (a file added, a shelf changed), waits at most 30 s for it, and sees all that was
written before. All tables stand in the first schema of the search path, usually ``public``.

Readings are lower-case ASCII letters and digits, one unbroken word a line for pg_trgm, so it drops and folds nothing,
whatever the locale.
"""

import socket
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa

from corpus.errors import CorpusError, SystemTroubleError, WellwornError
from db.dialect import TRANSCRIPTIONS, Dialect, Lookup

if TYPE_CHECKING:
    import psycopg

_LOCK_SECONDS: Final = 30
_CONNECT_SECONDS: Final = 10
_SESSION: Final = (
    # Times are kept as UTC in backup files, which know no zones.
    "-c TimeZone=UTC "
    # What a text is decides how it is best looked up, and compiling a query takes longer than answering it.
    "-c plan_cache_mode=force_custom_plan -c jit=off"
)
_OUR_LOCK: Final = 0x77656C6C
"""The first half of our advisory locks' number ("well"); the second tells schemas of one database apart."""


class _Postgresql:
    name = "postgresql"
    begin_reading = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
    begin_writing = (
        f"BEGIN; SET LOCAL lock_timeout = '{_LOCK_SECONDS}s'; "
        f"SELECT pg_advisory_xact_lock({_OUR_LOCK}, hashtext(current_schema()))"
    )
    tables = "SELECT tablename FROM pg_tables WHERE schemaname = current_schema()"

    def engine(self, url: str, file: Path | None) -> sa.Engine:
        address = sa.make_url(url)
        if address.drivername == "postgresql":
            address = address.set(drivername="postgresql+psycopg")
        if address.get_driver_name() != "psycopg":
            raise CorpusError("PostgreSQL is spoken to through psycopg: write postgresql+psycopg://USER@HOST/DATABASE")
        asked = address.query.get("options", "")
        settings = {
            "options": f"{asked if isinstance(asked, str) else ' '.join(asked)} {_SESSION}",
            "connect_timeout": _CONNECT_SECONDS,
            "application_name": "wellworn",
            "client_encoding": "UTF8",
            # A server that has gone is noticed after a minute, not after hours.
            "keepalives_idle": 30,
            "keepalives_interval": 10,
            "keepalives_count": 3,
        }
        return sa.create_engine(
            address,
            connect_args=settings,
            isolation_level="AUTOCOMMIT",  # we begin and end transactions ourselves
            pool_pre_ping=True,  # a server restarted between two transactions is no trouble
            use_native_hstore=False,
        )

    def in_transaction(self, connection: sa.Connection) -> bool:
        if connection.invalidated:  # the connection was lost, and its transaction with it
            return False
        driver: Any = connection.connection.driver_connection
        return not driver.closed and driver.info.transaction_status != driver.info.transaction_status.IDLE

    def check_commit(self, connection: sa.Connection) -> None:
        driver: Any = connection.connection.driver_connection
        if driver.info.transaction_status == driver.info.transaction_status.INERROR:
            raise SystemTroubleError("a statement failed, so nothing of this change is kept: try again")

    def holding(self, column: str, texts: Sequence[str]) -> Lookup:
        names = [f"text{number}" for number in range(len(texts))]
        condition = " OR ".join(f"r.{column} LIKE :{name}" for name in names)
        values = {name: f"%{text}%" for name, text in zip(names, texts, strict=True)}
        return Lookup(f"reading r {TRANSCRIPTIONS}", f"({condition})", values)

    def joined(self, expression: str) -> str:
        return f"string_agg(({expression})::text, chr(10))"


POSTGRESQL: Final[Dialect] = _Postgresql()

_LOST: Final = "was lost: try again when the server answers (what was under way is not kept, nothing is half-written)"
_HINTS: Final = {
    # SQLSTATE or its class: PostgreSQL's documentation, appendix "Error Codes"
    "08": f"cannot be reached, or the connection {_LOST}",
    "57P": f"cannot be reached, or the connection {_LOST}",
    "55P03": "is in use by another process: wait until it has finished and try again",
    "40": "was changed by another process at the same moment: try again (nothing was half-written)",
    "57014": "stopped the question, by its own time limit or an administrator's wish: try again",
    "53100": "has no room left, the server's disk is full: make room and try again (nothing was half-written)",
    "53": "has too little memory or too many connections: wait and try again",
    "25006": "is read-only: choose another with --db, or ask whoever runs the server",
    "58": "reports a fault of the server's disk: ask whoever runs the server (nothing was half-written)",
    "XX001": "is damaged: restore a backup",
    "XX002": "is damaged: restore a backup",
}
_NO_SUCH_HOST: Final = "has a host that nobody knows: mend the URL"
_UNKNOWN_TO_SERVER: Final = {
    "authentication failed": "refuses this user or password: mend the URL, or keep the password in ~/.pgpass",
    "no password supplied": "wants a password: keep it in ~/.pgpass, or in the variable PGPASSWORD",
    "failed to resolve host": _NO_SUCH_HOST,
    # psycopg up to 3.2.11 tells the system's words only.
    f"[Errno {int(socket.EAI_NONAME)}]": _NO_SUCH_HOST,
}


def in_words(name: str, cause: "psycopg.Error") -> WellwornError:
    """An error of PostgreSQL as one of ours, with what to do about it."""
    state, said = cause.sqlstate or "", " ".join(str(cause).split("\n")[0].split())
    if not state:
        return _without_connection(name, " ".join(str(cause).split()))
    if state == "42501":
        return SystemTroubleError(f"database {name} does not allow this user to do that ({said}): ask its owner")
    if state in ("42P01", "3F000", "42703"):
        return CorpusError(f"{name} is not a wellworn database ({said}): choose another with --db")
    for length in (5, 3, 2):
        if state[:length] in _HINTS:
            return SystemTroubleError(f"database {name} {_HINTS[state[:length]]}")
    return SystemTroubleError(f"database {name}: {said} ({state})")


def _without_connection(name: str, cause: str) -> WellwornError:
    """What failed without an answer of the server: it was not reached, or it refused, or it went away."""
    for words, hint in _UNKNOWN_TO_SERVER.items():
        if words in cause:
            return CorpusError(f"database {name} {hint}")
    if "database" in cause and "does not exist" in cause:
        return CorpusError(f"there is no database {name} on its server: make it there (createdb), or mend the URL")
    if "role" in cause and "does not exist" in cause:
        return CorpusError(f"database {name} does not know this user: mend the URL")
    if "server closed the connection" in cause or "terminating connection" in cause or "connection is lost" in cause:
        return SystemTroubleError(f"database {name}: the connection {_LOST}")
    return SystemTroubleError(f"database {name} cannot be reached ({cause}): is the server running, is the URL right?")
