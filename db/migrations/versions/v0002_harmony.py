"""Harmony: roles and movements as readings, functions of each line at every level; refused pieces of a file.

What follows from stored lines is filled in by ``db.store.store_again`` when all migrations are done.
"""

import sqlalchemy as sa
from alembic import op

from db.columns import ID, text
from db.migrations.on_server import create_indexes, is_server

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_NEW = ("role", "movement", "role_collapsed", "movement_collapsed")
_BEFORE = ("folded", "folded_collapsed", "letter", "letter_collapsed")
_INDEXED = (*_BEFORE, "role", "role_collapsed")


def upgrade() -> None:
    """Add the columns, the table and the indexes."""
    op.add_column("source", sa.Column("chart", text(), nullable=False, server_default=""))
    op.add_column("source", sa.Column("refused", sa.JSON, nullable=False, server_default="[]"))
    for name in _NEW:
        op.add_column("reading", sa.Column(name, text(), nullable=False, server_default=""))
    op.create_table(
        "harmony",
        sa.Column("level", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("transcription_id", ID, nullable=False, autoincrement=False),
        sa.Column("functions", text(), nullable=False),
        sa.Column("chord_indexes", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("level", "transcription_id", name="pk_harmony"),
        sa.ForeignKeyConstraint(
            ["transcription_id"], ["transcription.id"], name="fk_harmony_transcription_id", ondelete="CASCADE"
        ),
        sqlite_with_rowid=False,
    )
    op.create_index("ix_harmony_transcription_id", "harmony", ["transcription_id"])
    if is_server():
        create_indexes(("role", "role_collapsed"))
        return
    for trigger in ("reading_inserted", "reading_deleted", "reading_updated"):
        op.execute(f"DROP TRIGGER {trigger}")
    for name in ("role", "role_collapsed"):
        op.execute(
            f"CREATE VIRTUAL TABLE {name}_index USING fts5({name}, content='reading', "
            "content_rowid='transcription_id', columnsize=0, tokenize='trigram case_sensitive 1')"
        )
        # The triggers take old texts out of an index before they put new ones in: every line must be in it.
        op.execute(f"INSERT INTO {name}_index({name}_index) VALUES ('rebuild')")
    _create_triggers()


def _create_triggers() -> None:
    insert = "".join(
        f" INSERT INTO {name}_index(rowid, {name}) VALUES (new.transcription_id, new.{name});" for name in _INDEXED
    )
    delete = "".join(
        f" INSERT INTO {name}_index({name}_index, rowid, {name}) VALUES ('delete', old.transcription_id, old.{name});"
        for name in _INDEXED
    )
    op.execute(f"CREATE TRIGGER reading_inserted AFTER INSERT ON reading BEGIN{insert} END")
    op.execute(f"CREATE TRIGGER reading_deleted AFTER DELETE ON reading BEGIN{delete} END")
    op.execute(f"CREATE TRIGGER reading_updated AFTER UPDATE ON reading BEGIN{delete}{insert} END")


def downgrade() -> None:
    """Never: what an older wellworn cannot read must not be thrown away."""
    raise NotImplementedError("wellworn never goes back to an older schema: restore a backup instead")
