"""Functions under which no note starts, so that the places of a progression are counted exactly without their notes.

They are filled in by ``db.store.store_again`` when all migrations are done.
"""

import sqlalchemy as sa
from alembic import op

from db.columns import text

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column."""
    op.add_column("harmony", sa.Column("silences", text(), nullable=False, server_default=""))


def downgrade() -> None:
    """Never: what an older wellworn cannot read must not be thrown away."""
    raise NotImplementedError("wellworn never goes back to an older schema: restore a backup instead")
