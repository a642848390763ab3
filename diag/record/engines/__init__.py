"""The two databases, each behind the same few methods: `sqlite_engine` for a file, `postgres_engine` for a plant.

`schema` has the tables and `statements` every statement, the same for both.
"""
