"""What the jobs' database is made of: the program's own tables and guards, and nothing else.

A file that comes from elsewhere may hold a trigger that drops or changes what is entered, or a view in the place of a
table. Such a file is not opened, so that nothing is entered into it. No database is imported for it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from .migrations import MIGRATIONS, Statements

if TYPE_CHECKING:
    from sqlalchemy import Connection

MADE = "SELECT type, name, tbl_name, sql FROM sqlite_master"
GUARDS = {  # what refuses changes at a server: table, trigger and function
    ("entries", "entries_change_refused", "refused"), ("entries", "entries_replace_refused", "next_number"),
    ("jobs", "jobs_change_refused", "refused"),
}  # fmt: skip
GONE = "{} of the {} guards that refuse changes to entries are gone from the database"
_AT_A_SERVER = (
    "SELECT c.relname, t.tgname, p.proname, p.prosrc, t.tgenabled FROM pg_trigger t "
    "JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid "
    "WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace "
    "AND c.relname = ANY (ARRAY{tables}) UNION ALL SELECT tablename, rulename, '', '', 'R' FROM pg_rules "
    "WHERE schemaname = current_schema() AND tablename = ANY (ARRAY{tables})"
)
_CREATED = re.compile(r"CREATE (TABLE|TRIGGER) (\w+)")
_DROPPED = re.compile(r"DROP TABLE (\w+)")
_OWN = re.compile(r"CREATE TABLE sqlite_(sequence\(name,seq\)|stat\d\(\w+(,\w+)*\))")  # the database's own books


def strange(rows: Iterable[Sequence[Any]], migrations: Sequence[Statements] = MIGRATIONS) -> list[str]:
    """What is there and should not be, or should be and is not, in words. rows: what MADE finds."""
    wanted = expected(migrations)
    there: Counter[str] = Counter()
    found = []
    for kind, name, table, sql in rows:
        if sql in wanted.values():
            there[sql] += 1
        elif not (_index(kind, name, table, sql, wanted) or (kind == "table" and _OWN.fullmatch(str(sql)))):
            found.append(f"the {_word(kind)} '{_word(name)}' in the database was not made by chopstick")
    guards = [sql for sql in wanted.values() if sql.startswith("CREATE TRIGGER")]
    gone = [sql for sql in guards if not there[sql]]
    if gone:
        found.append(GONE.format(len(gone), len(guards)))
    found += [
        f"the table '{name}' is not as chopstick makes it"
        for name, sql in wanted.items()
        if sql not in guards and not there[sql]
    ]
    return found + [f"there is more than one {sql[7:40]}..." for sql, count in there.items() if count > 1]


def at_a_server(connection: Connection) -> Iterator[str]:
    """The same of the guards of a server's tables, and of what else has a hand in what is entered."""
    bodies = {one.split("$$")[1] for step in MIGRATIONS for one in step["postgresql"] if "$$" in one}
    query = _AT_A_SERVER.format(tables=sorted(expected()))
    sound = set()
    for table, name, function, body, enabled in connection.exec_driver_sql(query):
        guard = (table, name, function)
        if guard in GUARDS and body in bodies and enabled in ("O", "A"):
            sound.add(guard)
        elif guard not in GUARDS:
            kind = "rule" if enabled == "R" else "trigger"
            yield f"the {kind} '{_word(name)}' in the database was not made by chopstick"
    if gone := GUARDS - sound:
        yield GONE.format(len(gone), len(GUARDS))


def expected(migrations: Sequence[Statements] = MIGRATIONS) -> dict[str, str]:
    """The statements that made what is in an embedded database of the latest version, by name."""
    made: dict[str, str] = {}
    for statement in (one for step in migrations for one in step["sqlite"]):
        if created := _CREATED.match(statement):
            made[created[2]] = statement
        elif dropped := _DROPPED.fullmatch(statement):
            del made[dropped[1]]
    return made


def _index(kind: Any, name: Any, table: Any, sql: Any, wanted: dict[str, str]) -> bool:
    """Whether it is an index that the database keeps by itself for a UNIQUE of one of the tables."""
    own = str(name).startswith(f"sqlite_autoindex_{table}_")
    return bool(kind == "index" and sql is None and table in wanted and own)


def _word(text: Any) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in str(text)[:60])
