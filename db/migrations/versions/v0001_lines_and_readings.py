"""The first schema: sources, transcriptions, lines, readings, and the trigram indexes over the readings."""

import sqlalchemy as sa
from alembic import op

from db.columns import ID, text
from db.migrations.on_server import create_indexes, is_server

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_INDEXED = ("folded", "folded_collapsed", "letter", "letter_collapsed")


def _reading_columns() -> list[sa.Column[str]]:
    names = ("interval", "folded", "step", "letter", "contour", "rhythm", "degree")
    return [sa.Column(f"{name}{suffix}", text(), nullable=False) for suffix in ("", "_collapsed") for name in names]


def upgrade() -> None:
    """Make the tables, the indexes and the triggers that keep the trigram indexes in step."""
    op.create_table(
        "source",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", text(4096), nullable=False),
        sa.Column("content_hash", text(64), nullable=False),
        sa.Column("part", text(200), nullable=False),
        sa.Column("byte_count", sa.Integer, nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_source"),
        sa.UniqueConstraint("content_hash", name="uq_source_content_hash"),
        sa.CheckConstraint("byte_count >= 0", name="ck_source_byte_count"),
    )
    # A hash has room for names of any length, a tree on PostgreSQL only for some 2,700 bytes.
    op.create_index("ix_source_name", "source", ["name"], postgresql_using="hash")
    op.create_table(
        "transcription",
        sa.Column("id", ID, nullable=False),
        sa.Column("source_id", ID, nullable=False),
        sa.Column("position", sa.Integer, nullable=False),
        *(
            sa.Column(name, text(400), nullable=False)
            for name in ("title", "player", "collection", "instrument", "recording")
        ),
        sa.Column("year", sa.Integer),
        sa.Column("tempo_bpm", sa.Float),
        sa.Column("key", text(40), nullable=False),
        sa.Column("meter", text(20), nullable=False),
        sa.Column("form", text(2000), nullable=False),
        sa.Column("note_count", sa.Integer, nullable=False),
        sa.Column("bar_count", sa.Integer, nullable=False),
        sa.Column("edited", sa.JSON, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_transcription"),
        sa.ForeignKeyConstraint(["source_id"], ["source.id"], name="fk_transcription_source_id", ondelete="CASCADE"),
        sa.UniqueConstraint("source_id", "position", name="uq_transcription_source_id"),
    )
    for name in ("title", "player", "collection"):
        op.create_index(f"ix_transcription_{name}", "transcription", [name])
    for table, columns in (
        ("line", [sa.Column(name, sa.LargeBinary, nullable=False) for name in ("notes", "layout")]),
        ("reading", _reading_columns()),
    ):
        op.create_table(
            table,
            sa.Column("transcription_id", ID, nullable=False, autoincrement=False),
            *columns,
            sa.PrimaryKeyConstraint("transcription_id", name=f"pk_{table}"),
            sa.ForeignKeyConstraint(
                ["transcription_id"],
                ["transcription.id"],
                name=f"fk_{table}_transcription_id",
                ondelete="CASCADE",
            ),
        )
    if is_server():
        create_indexes(_INDEXED)
    else:
        _create_trigram_indexes()


def _create_trigram_indexes() -> None:
    for name in _INDEXED:
        op.execute(
            f"CREATE VIRTUAL TABLE {name}_index USING fts5({name}, content='reading', "
            "content_rowid='transcription_id', columnsize=0, tokenize='trigram case_sensitive 1')"
        )
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
    """There is no schema before the first."""
    raise NotImplementedError("wellworn never goes back to an older schema: restore a backup instead")
