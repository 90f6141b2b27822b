"""Families of recurring figures are kept, with the settings that made them."""

import sqlalchemy as sa
from alembic import op

from db.columns import ID, text
from db.migrations.on_server import is_server

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables; what is in them can always be made again from the lines."""
    op.create_table(
        "discovery",
        sa.Column("id", ID, primary_key=True),
        sa.Column("asked", text(), nullable=False),
        sa.Column("lines_hash", text(64), nullable=False),
        sa.Column("line_count", sa.Integer, nullable=False),
        sa.Column("note_count", sa.Integer, nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        *([] if is_server() else [sa.UniqueConstraint("asked", name="uq_discovery_asked")]),
    )
    if is_server():
        # A question may be longer than what a tree of PostgreSQL's has room for.
        op.execute("CREATE UNIQUE INDEX uq_discovery_asked ON discovery (md5(asked))")
    op.create_table(
        "family",
        sa.Column("discovery_id", ID, nullable=False),
        sa.Column("rank", sa.Integer, nullable=False),
        sa.Column("code", text(12), nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("discovery_id", "rank", name="pk_family"),
        sa.ForeignKeyConstraint(["discovery_id"], ["discovery.id"], ondelete="CASCADE", name="fk_family_discovery_id"),
    )
    op.create_index("ix_family_code", "family", ["code"])
