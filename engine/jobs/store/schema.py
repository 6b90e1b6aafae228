"""The tables of the jobs' database, as queries see them. How they come to be is in migrations.py.

- jobs: one row per job. number: what is written on the job's label.
- entries: one row per entry, only ever added to. place: the order in which entries were kept, over all jobs; job and
  number: whose it is, and its number in that job's log from 1 on, without gaps; at: its time, UTC, as sortable text;
  kind: as in the body; body: the entry as JSON, in the shape of engine/reasoning/log.py; hash: the SHA-256 of the hash
  of the entry before it ('' before the first) and the body, so that a change to any of them is seen.
- taken_over: the job files of the version before the database that were read. name: the file; job: what it became.
- shop_marks: what the shop has marked, and when; only ever added to, and the last of a name counts. place: their order;
  name: `learning`, from when on closed jobs teach.
- schema_version: one row per migration.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, ForeignKey, Integer, MetaData, Table, Text, UniqueConstraint

metadata = MetaData()

jobs = Table("jobs", metadata, Column("number", Integer, primary_key=True, autoincrement=False))
entries = Table(
    "entries",
    metadata,
    Column("place", BigInteger().with_variant(Integer, "sqlite"), primary_key=True),
    Column("job", Integer, ForeignKey("jobs.number"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("at", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("hash", Text, nullable=False),
    UniqueConstraint("job", "number"),
)
taken_over = Table(
    "taken_over",
    metadata,
    Column("name", Text, primary_key=True),
    Column("job", Integer, ForeignKey("jobs.number"), nullable=False),
)
marks = Table(
    "shop_marks",
    metadata,
    Column("place", BigInteger().with_variant(Integer, "sqlite"), primary_key=True),
    Column("name", Text, nullable=False),
    Column("at", Text, nullable=False),
)
schema_version = Table(
    "schema_version",
    metadata,
    Column("version", Integer, primary_key=True, autoincrement=False),
    Column("at", Text, nullable=False),
)
