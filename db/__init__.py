"""Everything SQL: schema, migrations, storing, searching. Knows no commands and prints nothing."""
