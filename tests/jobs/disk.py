"""A disk that fails on command (disk.c), and what a store has kept on it.

`Disk` runs a process below which every write goes through disk.c. It is told, a line of JSON at a time, what is to
happen; for each it forks a bench that opens the store and enters notes until it is done or killed, and tells what was
confirmed to that bench and what is found afterwards.
"""

from __future__ import annotations

import ctypes
import json
import os
import shutil
import struct
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

PASS, KILL, FAIL, RECORD = range(4)
WRITE, CUT, REMOVE, FORCE, READ, MAKE = 1, 2, 4, 8, 16, 32
CHANGES = WRITE | CUT | REMOVE | FORCE | MAKE
FOREVER = 1 << 40
AT = datetime(2026, 1, 1, 9, 30, tzinfo=UTC)


@dataclass(frozen=True)
class Plan:
    """What is to happen. at: the number of the call that is struck; share: how many thousandths of a struck write reach
    the disk (and above 500, whether another call takes effect); last: the last call that fails; notes: how many notes
    the bench enters; kinds: the calls that count."""

    mode: int = PASS
    at: int = 0
    share: int = 0
    error: int = 0
    last: int = FOREVER
    notes: int = 3
    kinds: int = CHANGES
    new: bool = False  # whether the bench begins with an empty folder, and opens the job itself
    record: str = ""


@dataclass(frozen=True)
class Outcome:
    """confirmed: the notes that the bench was told are kept (-1: not even the job was); kept: the notes found after it;
    in_order: whether they are the first ones entered, in order; told: what the bench was told went wrong; problems:
    what the check of the store finds; goes_on: whether the next note could be entered; calls: how many were counted."""

    confirmed: int
    kept: int
    in_order: bool
    told: str
    problems: tuple[str, ...]
    goes_on: bool
    calls: int


def build(folder: Path) -> Path:
    """Compile disk.c; gcc is here, since one of the program's own dependencies needs it."""
    library = folder / "disk.so"
    source = Path(__file__).with_name("disk.c")
    subprocess.run(["gcc", "-O1", "-Wall", "-Werror", "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True)
    return library


class Disk:
    def __init__(self, library: Path, folder: Path) -> None:
        self._process = subprocess.Popen(
            [sys.executable, __file__, str(library), str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            text=True, env={**os.environ, "LD_PRELOAD": str(library)},
        )  # fmt: skip

    def run(self, plan: Plan) -> Outcome:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(asdict(plan)) + "\n")
        self._process.stdin.flush()
        answer: dict[str, Any] = json.loads(self._process.stdout.readline())
        answer["problems"] = tuple(answer["problems"])
        return Outcome(**answer)

    def end(self) -> None:
        assert self._process.stdin is not None
        self._process.stdin.close()
        self._process.wait(timeout=300)


# --- in the process below which the disk lies ---


def serve(library: str, folder: str) -> None:
    from chopstick.engine.jobs.store.store import open_store
    from chopstick.engine.reasoning.log import Opened

    disk = ctypes.CDLL(library)
    disk.disk_count.restype = ctypes.c_long
    template, jobs = Path(folder) / "template", Path(folder) / "jobs"
    # nothing fails here, and nothing waits for the real disk
    disk.disk_plan(os.fsencode(folder), FAIL, ctypes.c_long(FOREVER), ctypes.c_long(0), 0, 0, ctypes.c_long(0), -1)
    open_store(template).create(Opened(at=AT, title="t", fingerprint="f"))
    for line in sys.stdin:
        plan = Plan(**json.loads(line))
        shutil.rmtree(jobs, ignore_errors=True)
        if not plan.new:
            shutil.copytree(template, jobs)
        confirmed, told, calls = bench(disk, jobs, plan)
        print(json.dumps(asdict(found(jobs, confirmed, told, calls))), flush=True)


def bench(disk: Any, jobs: Path, plan: Plan) -> tuple[int, str, int]:
    """A bench in a process of its own: what it was told is kept, what went wrong, how many calls it made."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            enter(disk, jobs, plan, writing)
        finally:
            os._exit(0)
    os.close(writing)
    with open(reading, encoding="utf-8") as lines:
        said = lines.read().splitlines()
    os.waitpid(child, 0)
    told = next((line[1:] for line in said if line.startswith("!")), "")
    calls = next((int(line[1:]) for line in said if line.startswith("#")), 0)
    confirmed = [int(line) for line in said if line[0] not in "!#"]
    return max(confirmed, default=-1 if plan.new else 0), told, calls


def enter(disk: Any, jobs: Path, plan: Plan, tell: int) -> None:
    """Enter notes 1, 2, 3 ...; after each, say that it was confirmed. Nothing is buffered."""
    from chopstick.engine.jobs.store.errors import JobError
    from chopstick.engine.jobs.store.store import open_store
    from chopstick.engine.reasoning.log import Note, Opened

    log = os.open(plan.record, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600) if plan.record else -1
    disk.disk_plan(
        os.fsencode(jobs), plan.mode, ctypes.c_long(plan.at), ctypes.c_long(plan.share), plan.error, plan.kinds,
        ctypes.c_long(plan.last), log,
    )  # fmt: skip
    try:
        store = open_store(jobs)
        if plan.new:
            job = store.create(Opened(at=AT, title="t", fingerprint="f"))
            disk.disk_mark()
            os.write(tell, b"0\n")
        else:
            job = store.find(1)
        for number in range(1, plan.notes + 1):
            job.append(Note(at=AT, text=str(number)))
            disk.disk_mark()
            os.write(tell, b"%d\n" % number)
    except JobError as error:
        os.write(tell, b"!%s\n" % " ".join(f"{error} {error.todo}".split()).encode())
    os.write(tell, b"#%d\n" % disk.disk_count())


def found(jobs: Path, confirmed: int, told: str = "", calls: int = 0) -> Outcome:
    """What the next command finds on the disk."""
    from chopstick.engine.jobs.store.check import problems
    from chopstick.engine.jobs.store.errors import JobError
    from chopstick.engine.jobs.store.store import open_store
    from chopstick.engine.reasoning.log import Note, Opened

    store = open_store(jobs)
    texts: list[str] = []
    kept, goes_on = -1, False
    try:
        if store.listed():
            job = store.find(1)
            texts = [entry.text for entry in job.log if isinstance(entry, Note)]
            kept = len(texts)
            goes_on = job.append(Note(at=AT, text="on")) == ()
        else:
            goes_on = store.create(Opened(at=AT, title="t", fingerprint="f")).number == 1
        wrong = tuple(problems(store))
    except JobError as error:
        wrong = (str(error),)
    in_order = texts == [str(number) for number in range(1, len(texts) + 1)]
    return Outcome(confirmed, kept, in_order, told, wrong, goes_on, calls)


# --- power loss: what may be on the disk after one ---


@dataclass(frozen=True)
class Call:
    """A call that was written down. kind 0: the bench was told that an entry is kept."""

    kind: int
    path: str
    offset: int
    data: bytes


def calls(record: Path) -> list[Call]:
    """What disk.c wrote down."""
    content, place, found = record.read_bytes(), 0, []
    while place < len(content):
        kind, offset, size, length = struct.unpack_from("=4q", content, place)
        place += 32
        path = content[place : place + length].decode()
        place += length
        found.append(Call(kind, path, offset, content[place : place + size]))
        place += size
    return found


def after_power_loss(made: list[Call], until: int, choose: Any, to: Path) -> None:
    """Lay out in the folder `to` what may be left when the power fails after the first `until` calls.

    What was forced to the disk is there. Of what was not, anything may be: each write, whole or only some of its
    sectors of 512 bytes, each cut, and each making or removing of a file whose folder was not forced.
    choose: a random number generator.
    """
    names: dict[str, int] = {}  # the folder as the program sees it
    kept_names: dict[str, int] = {}  # as it is on the disk
    waiting_names: list[tuple[str, int | None]] = []
    content: dict[int, bytearray] = {}  # by file, as it is on the disk
    waiting: dict[int, list[Call]] = {}
    folder = next(str(Path(call.path).parent) for call in made if call.kind == MAKE)
    for number, call in enumerate(made[:until]):
        if call.kind == MAKE:
            names[call.path] = number
            content[number], waiting[number] = bytearray(), []
            waiting_names.append((call.path, number))
        elif call.kind == REMOVE:
            names.pop(call.path)
            waiting_names.append((call.path, None))
        elif call.kind == FORCE and call.path == folder:
            _rename(kept_names, waiting_names)
            waiting_names = []
        elif call.kind == FORCE and call.path in names:
            file = names[call.path]
            for one in waiting[file]:
                _apply(content[file], one)
            waiting[file] = []
        elif call.kind in (WRITE, CUT) and call.path in names:
            waiting[names[call.path]].append(call)
    _rename(kept_names, [one for one in waiting_names if choose.random() < 0.5])
    shutil.rmtree(to, ignore_errors=True)
    to.mkdir()
    for path, file in kept_names.items():
        for one in waiting[file]:
            for part in _torn(one, choose):
                _apply(content[file], part)
        (to / Path(path).name).write_bytes(content[file])


def _rename(names: dict[str, int], changes: list[tuple[str, int | None]]) -> None:
    for path, file in changes:
        if file is None:
            names.pop(path, None)
        else:
            names[path] = file


def _torn(call: Call, choose: Any) -> Iterator[Call]:
    """What may have become of a call that was not forced: nothing, all, or some sectors of it."""
    fate = choose.random()
    if fate < 0.3:
        return
    if fate < 0.6 or call.kind == CUT:
        yield call
        return
    for start in range(0, len(call.data), 512):
        if choose.random() < 0.5:
            yield Call(WRITE, call.path, call.offset + start, call.data[start : start + 512])


def _apply(content: bytearray, call: Call) -> None:
    if call.kind == CUT:
        del content[call.offset :]
        content.extend(bytes(call.offset - len(content)))
        return
    end = call.offset + len(call.data)
    content.extend(bytes(max(0, end - len(content))))
    content[call.offset : end] = call.data


if __name__ == "__main__":
    serve(sys.argv[1], sys.argv[2])
