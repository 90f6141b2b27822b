"""Run by Alembic: migrate over the connection that ``db.connection`` hands in, inside its transaction."""

from alembic import context

from db.schema import Base

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=Base.metadata, transaction_per_migration=False)
with context.begin_transaction():
    context.run_migrations()
