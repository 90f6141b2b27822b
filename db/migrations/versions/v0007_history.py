"""The history: what the last changes of corpus and shelf found there, so that they can be undone."""

import sqlalchemy as sa
from alembic import op

from db.columns import ID, text
from db.migrations.versions import v0005_shelf

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table; what was changed before cannot be undone."""
    if "shelf_figure" not in sa.inspect(op.get_bind()).get_table_names():
        # An early state of schema 0006 was made without the shelf.
        v0005_shelf.upgrade()
    op.create_table(
        "history",
        sa.Column("id", ID, nullable=False),
        sa.Column("deed", text(16), nullable=False),
        sa.Column("command", text(40), nullable=False),
        sa.Column("words", text(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("content", sa.LargeBinary),
        sa.PrimaryKeyConstraint("id", name="pk_history"),
    )
    op.create_index("ix_history_deed", "history", ["deed"])


def downgrade() -> None:
    """Never: what an older wellworn cannot read must not be thrown away."""
    raise NotImplementedError("wellworn never goes back to an older schema: restore a backup instead")
