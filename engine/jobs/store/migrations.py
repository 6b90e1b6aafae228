"""The schema of the jobs' database, step by step, as statements for either kind of database.

A migration is never edited once it has been in use, only followed by another. migrate.py runs them; schema.py says what
the tables hold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

Statements = Mapping[str, Sequence[str]]

_NEVER = "the entries of a job are never changed or taken out"
_BOTH = (
    "CREATE TABLE schema_version (version INTEGER PRIMARY KEY, at TEXT NOT NULL)",
    "CREATE TABLE jobs (number INTEGER PRIMARY KEY CHECK (number > 0))",
    "CREATE TABLE taken_over (name TEXT PRIMARY KEY, job INTEGER NOT NULL REFERENCES jobs (number))",
)
_ENTRIES = (
    "CREATE TABLE entries (place {place}, job INTEGER NOT NULL REFERENCES jobs (number), "
    "number INTEGER NOT NULL CHECK (number > 0), at TEXT NOT NULL, kind TEXT NOT NULL, body TEXT NOT NULL, "
    "hash TEXT NOT NULL, UNIQUE (job, number))"
)

FIRST: Statements = {
    "sqlite": (
        *_BOTH,
        _ENTRIES.format(place="INTEGER PRIMARY KEY AUTOINCREMENT"),
        *(
            f"CREATE TRIGGER {table}_{what}_refused BEFORE {what} ON {table} BEGIN SELECT RAISE(ABORT, '{_NEVER}'); END"
            for table in ("entries", "jobs")
            for what in ("UPDATE", "DELETE")
        ),
        # INSERT OR REPLACE takes rows out without asking the triggers above
        "CREATE TRIGGER entries_replace_refused BEFORE INSERT ON entries "
        "WHEN EXISTS (SELECT 1 FROM entries WHERE place = NEW.place) OR NEW.number <> "
        "(SELECT coalesce(max(number), 0) + 1 FROM entries WHERE job = NEW.job) "
        f"BEGIN SELECT RAISE(ABORT, '{_NEVER}; a new one takes the next number'); END",
    ),
    "postgresql": (
        *_BOTH,
        _ENTRIES.format(place="BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY"),
        "CREATE FUNCTION refused() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{_NEVER}'; END $$",
        *(
            f"CREATE TRIGGER {table}_change_refused BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refused()"
            for table in ("entries", "jobs")
        ),
        "CREATE FUNCTION next_number() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "IF NEW.number <> (SELECT coalesce(max(number), 0) + 1 FROM entries WHERE job = NEW.job) THEN "
        f"RAISE EXCEPTION '{_NEVER}; a new one takes the next number' USING ERRCODE = 'unique_violation'; END IF; "
        "RETURN NEW; END $$",
        "CREATE TRIGGER entries_replace_refused BEFORE INSERT ON entries "
        "FOR EACH ROW EXECUTE FUNCTION next_number()",
    ),
}  # fmt: skip
MARKS: Statements = dict.fromkeys(
    ("sqlite", "postgresql"), ("CREATE TABLE marks (name TEXT NOT NULL, at TEXT NOT NULL)",)
)
# The last mark that was set counts, not the one with the latest time: a clock may have been wrong once.
IN_ORDER: Statements = {
    dialect: (
        f"CREATE TABLE shop_marks (place {place} PRIMARY KEY{counted}, name TEXT NOT NULL, at TEXT NOT NULL)",
        "INSERT INTO shop_marks (name, at) SELECT name, at FROM marks ORDER BY at",
        "DROP TABLE marks",
    )
    for dialect, place, counted in (
        ("sqlite", "INTEGER", " AUTOINCREMENT"), ("postgresql", "BIGINT GENERATED ALWAYS AS IDENTITY", "")
    )
}  # fmt: skip
MIGRATIONS: tuple[Statements, ...] = (FIRST, MARKS, IN_ORDER)
