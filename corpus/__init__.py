"""The music, pure: notes, readings, matching. Knows no SQL and prints nothing."""
