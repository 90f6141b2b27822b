"""Run by Alembic: migrate over the connection that ``db.connection`` hands in, inside its transaction."""

from alembic import context

from db.dialect import is_on_server
from db.schema import Base

connection = context.config.attributes["connection"]
# On a server the record stands beside the tables, even where another schema of the search path holds another corpus.
schema = connection.exec_driver_sql("SELECT current_schema()").scalar_one() if is_on_server(connection) else None
context.configure(
    connection=connection,
    target_metadata=Base.metadata,
    transaction_per_migration=False,
    version_table_schema=schema,
)
with context.begin_transaction():
    context.run_migrations()
