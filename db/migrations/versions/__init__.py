"""One module a schema, named by its number."""
