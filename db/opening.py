"""Opening a database: made when it is missing and may be, brought to the newest schema, refused when it is not ours."""

from pathlib import Path
from typing import Final

from corpus.errors import CorpusError, SystemTroubleError
from db.connection import Database, plain_errors, schema_in, tables_in
from db.location import file_of

SCHEMA: Final = "0007"
"""The newest schema: the number of the last migration in ``db.migrations.versions``."""


def open_database(url: str, create: bool = False) -> Database:
    """Open a database whose schema is the newest, upgrading an older one.

    With ``create`` a missing database is made, folders included; without, CorpusError says that there is none yet.
    CorpusError also for a database made by a newer wellworn, or by another program.
    """
    file = file_of(url)
    if file is not None and not file.exists():
        if not create:
            raise CorpusError(f"there is no database {file} yet: add transcriptions first (wellworn add FILE …)")
        make_folder(file)
    database = Database(url if create else _never_making(url))
    schema = database.schema()
    if schema == SCHEMA:
        return database
    if schema is None and not create:
        _refuse_without_tables(database)
    if schema is not None and schema > SCHEMA:
        raise CorpusError(
            f"database {database.name} has schema {schema}, made by a newer wellworn; "
            f"this one knows {SCHEMA}: install the newer one"
        )
    _migrate(database, is_new=schema is None)
    return database


def _refuse_without_tables(database: Database) -> None:
    """Raises CorpusError for a database that is not ours, or not yet."""
    if database.file is not None and database.file.stat().st_size:
        raise CorpusError(f"{database.name} is not a wellworn database: choose another file with --db")
    raise CorpusError(f"database {database.name} holds no transcriptions yet: add some first (wellworn add FILE …)")


def _never_making(url: str) -> str:
    """A URL under which SQLite opens a file, but does not make one: it would, where the name is a URI of its own."""
    has_own_name = url.startswith("sqlite:///file:") and "mode=" not in url
    return f"{url}{'&' if '?' in url else '?'}mode=rw" if has_own_name else url


def make_folder(file: Path) -> None:
    """Make the folder of a database file. Raises SystemTroubleError when the system refuses."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SystemTroubleError(
            f"folder {file.parent} cannot be made ({error.strerror}): choose another with --db"
        ) from error


def _migrate(database: Database, is_new: bool) -> None:
    """Bring the schema to the newest; the whole upgrade is one transaction."""
    from db.migrations.run import migrate

    if is_new and not database.is_on_server:
        with plain_errors(database.name), database.connect() as connection:
            if not tables_in(connection):
                connection.exec_driver_sql("PRAGMA journal_mode = WAL")
    with database.writing() as connection:
        # Another process may have made or upgraded the database while this one waited for its turn.
        tables = tables_in(connection)
        if tables and "alembic_version" not in tables:
            raise CorpusError(f"{database.name} is a database of another program: choose another with --db")
        if tables and schema_in(connection) == SCHEMA:
            return
        migrate(connection, is_new)
        if not is_new:
            from db.store import store_again

            store_again(connection)
