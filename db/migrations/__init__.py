"""Changes of the schema, oldest first, each run in one transaction with its own record."""
