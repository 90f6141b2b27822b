"""Families of recurring figures are kept, with the settings that made them."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables; what is in them can always be made again from the lines."""
    op.create_table(
        "discovery",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("asked", sa.Text, nullable=False),
        sa.Column("lines_hash", sa.String(64), nullable=False),
        sa.Column("line_count", sa.Integer, nullable=False),
        sa.Column("note_count", sa.Integer, nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.UniqueConstraint("asked", name="uq_discovery_asked"),
    )
    op.create_table(
        "family",
        sa.Column("discovery_id", sa.Integer, nullable=False),
        sa.Column("rank", sa.Integer, nullable=False),
        sa.Column("code", sa.String(12), nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("discovery_id", "rank", name="pk_family"),
        sa.ForeignKeyConstraint(["discovery_id"], ["discovery.id"], ondelete="CASCADE", name="fk_family_discovery_id"),
    )
    op.create_index("ix_family_code", "family", ["code"])
