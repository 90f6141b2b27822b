"""The shelf: kept figures, where they came from, and the practice log."""

import sqlalchemy as sa
from alembic import op

from db.columns import ID, text

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the three tables."""
    op.create_table(
        "shelf_figure",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", text(80), nullable=False),
        sa.Column("id_name", text(240), nullable=False),
        sa.Column("music", sa.JSON, nullable=False),
        sa.Column("tags", sa.JSON, nullable=False),
        sa.Column("rating", sa.Integer),
        sa.Column("comment", text(), nullable=False),
        sa.Column("family", text(80), nullable=False),
        sa.Column("kept_on", sa.Date),
        sa.PrimaryKeyConstraint("id", name="pk_shelf_figure"),
        sa.UniqueConstraint("id_name", name="uq_shelf_figure_id_name"),
        sa.CheckConstraint("rating BETWEEN 1 AND 5", name="ck_shelf_figure_rating"),
    )
    op.create_table(
        "shelf_source",
        sa.Column("id", ID, nullable=False),
        sa.Column("figure_id", ID, nullable=False),
        *(sa.Column(name, text(400), nullable=False) for name in ("title", "player", "passage")),
        sa.Column("notes", sa.JSON, nullable=False),
        sa.Column("transcription_id", ID),
        *(sa.Column(name, sa.Integer) for name in ("first", "last")),
        sa.PrimaryKeyConstraint("id", name="pk_shelf_source"),
        sa.ForeignKeyConstraint(
            ["figure_id"], ["shelf_figure.id"], name="fk_shelf_source_figure_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_shelf_source_figure_id", "shelf_source", ["figure_id"])
    op.create_index("ix_shelf_source_transcription_id", "shelf_source", ["transcription_id"])
    op.create_table(
        "practice",
        sa.Column("id", ID, nullable=False),
        sa.Column("figure_id", ID, nullable=False),
        sa.Column("day", sa.Date, nullable=False),
        sa.Column("bpm", sa.Float, nullable=False),
        sa.Column("keys", sa.JSON, nullable=False),
        sa.Column("grade", sa.Integer),
        sa.PrimaryKeyConstraint("id", name="pk_practice"),
        sa.ForeignKeyConstraint(["figure_id"], ["shelf_figure.id"], name="fk_practice_figure_id", ondelete="CASCADE"),
        sa.CheckConstraint("grade BETWEEN 0 AND 5", name="ck_practice_grade"),
    )
    op.create_index("ix_practice_figure_id", "practice", ["figure_id"])
