"""Harmony read anew: functions and roles that were stored by an older reading of charts.

No table changes: what follows from stored lines is derived again by ``db.store.store_again`` after every upgrade.
"""

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing to change in the tables."""
