"""Whatever is tampered with behind the program's back is found and named."""

from __future__ import annotations

from pathlib import Path

import pytest
from chopstick.engine.jobs.store.check import problems
from chopstick.engine.jobs.store.errors import JobError
from chopstick.engine.jobs.store.job import hashed
from chopstick.engine.jobs.store.store import Store, open_store
from sqlalchemy import text

from .conftest import note, opened

ROW = "INSERT INTO entries (job, number, at, kind, body, hash) VALUES "
STAMP = "2026-01-01T09:30:00.000000+00:00"


def without_guards(store: Store, *statements: str) -> None:
    """What somebody with the database's own tools and bad luck could do."""
    with store.database.writing() as connection:
        if connection.dialect.name == "sqlite":
            names = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")).all()
            for name, _ in names:
                connection.execute(text(f"DROP TRIGGER {name}"))
            for statement in statements:
                connection.exec_driver_sql(statement)
            for _, sql in names:
                connection.exec_driver_sql(sql)
        else:
            for what in ("DISABLE", "ENABLE"):
                for table in ("entries", "jobs"):
                    connection.exec_driver_sql(f"ALTER TABLE {table} {what} TRIGGER USER")
                for statement in statements if what == "DISABLE" else ():
                    connection.exec_driver_sql(statement.replace("%", "%%"))


def test_a_sound_store_has_no_problems(store: Store, tmp_path: Path) -> None:
    store.create(opened(), note("Ω"), note(""))
    assert problems(store) == []
    assert problems(open_store(tmp_path / "nowhere")) == []


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE entries SET body = replace(body, 'gone', 'fine') WHERE number = 3", "job 1: entry 3 is not as it was"),
        ("DELETE FROM entries WHERE number = 2", "job 1: entry 2 of its log missing"),
        ("DELETE FROM entries WHERE number IN (2, 3)", "job 1: entries 2 to 3 of its log missing"),
        ("UPDATE entries SET kind = 'closed' WHERE number = 3", "entry 3 is listed under another kind or time"),
        ("UPDATE entries SET at = '2030' WHERE number = 3", "entry 3 is listed under another kind or time"),
        ("INSERT INTO jobs VALUES (9)", "job 9 has no entries"),
    ],
)
def test_tampering_is_found(statement: str, says: str, store: Store) -> None:
    store.create(opened(), note("one"), note("the gone one"), note("three"))
    without_guards(store, statement)
    found = problems(store)
    assert any(says in one for one in found), found


def test_an_entry_changed_together_with_its_hash_breaks_the_chain(store: Store) -> None:
    log = [opened(), note("as it was"), note("after")]
    store.create(*log)  # type: ignore[arg-type]
    body = note("as I want it").model_dump_json()
    hash_ = hashed(hashed("", log[0].model_dump_json()), body)
    without_guards(store, f"UPDATE entries SET body = '{body}', hash = '{hash_}' WHERE number = 2")
    assert problems(store) == ["job 1: entry 3 is not as it was written (its hash does not fit)"]
    with pytest.raises(JobError, match="damaged from entry 3 on"):
        store.find(1)


def test_a_kind_from_a_later_program_is_named_and_the_other_jobs_are_read(store: Store) -> None:
    store.create(opened("one"))
    store.create(opened("two"))
    body = '{"kind":"levitated","at":"2026-01-01T09:30:00Z"}'
    hash_ = hashed(hashed("", opened("one").model_dump_json()), body)
    with store.database.writing() as connection:
        connection.exec_driver_sql(f"{ROW} (1, 2, '{STAMP}', 'levitated', '{body}', '{hash_}')")
    assert "entry 2 of job 1 can't be read" in problems(store)[0]
    with pytest.raises(JobError, match="update this one"):
        store.find(1)
    assert [job.number for job in store.jobs()] == [2]
    assert store.find(2).log == [opened("two")]


def test_missing_guards_are_told(store: Store) -> None:
    store.create(opened())
    on = " ON entries" if store.database.file is None else ""
    with store.database.writing() as connection:
        connection.exec_driver_sql(f"DROP TRIGGER entries_replace_refused{on}")
    assert "guards that refuse changes" in problems(store)[0]


def test_the_hash_of_an_entry_rests_on_the_one_before() -> None:
    """As SHA-256 (FIPS 180-4) of the hash before, a line end, and the body; here worked out by coreutils:

    printf 'abc\\n{}' | sha256sum
    """
    assert hashed("abc", "{}") == "b4157e40dd21db67528800eb46fe6641eaa5e321734b6890e43e9ce6ed37d91b"
