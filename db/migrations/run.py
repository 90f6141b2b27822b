"""Running the migrations over an open connection, inside its transaction."""

import sqlalchemy as sa


def migrate(connection: sa.Connection, is_new: bool) -> None:
    """Bring the tables to the newest schema; what follows from stored lines is not derived here.

    Raises CorpusError where a server lacks what a new database needs.
    """
    from alembic import command
    from alembic.config import Config

    if is_new and connection.dialect.name == "postgresql":
        from db.migrations.on_server import prepare_server

        prepare_server(connection)
    config = Config()
    config.set_main_option("script_location", "db:migrations")
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
