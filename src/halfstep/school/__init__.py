"""Who studies, and what is kept of it: the one place for what outlives a command, on disk.

What stands here is stored and found again in the types of `halfstep.practice`; nothing is heard,
judged or planned. SQLite in one folder is the default, written so that PostgreSQL can take its
place: statements are SQLAlchemy's, and what is SQLite's own stands in `database` alone.
"""
