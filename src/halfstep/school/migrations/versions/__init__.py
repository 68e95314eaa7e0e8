"""The changes of the schema, each leading from the one before it."""
