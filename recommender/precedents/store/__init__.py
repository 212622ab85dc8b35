"""The case library as a database: SQLite on one machine, PostgreSQL for a group, the same code.

``opening.open_library`` finds a library; ``library.Library`` reads and writes it. Nothing is imported here,
so that a command which needs no database does not pay for one.
"""
