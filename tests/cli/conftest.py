"""The command line over a small knowledge base, in this process and in one of its own."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from chopstick.cli.main import app, settings_first
from typer.testing import CliRunner

from .. import forked

HERE = Path(__file__).parent
SMALL = HERE / "kb"
JOB = HERE / "job.yaml"
COMPLAINTS = ("--complaint", "crackle=it crackles when I turn it", "--complaint", "runs-hot=the big tubes get too hot")


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Run = Callable[..., Ran]


@pytest.fixture
def jobs(tmp_path: Path) -> Path:
    return tmp_path / "jobs"


@pytest.fixture
def run(jobs: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command in this process; what it reads and keeps is the small knowledge base and a folder of the test."""
    monkeypatch.setenv("CHOPSTICK_JOBS", str(jobs))
    monkeypatch.setenv("COLUMNS", "80")

    def run_(*words: str, typed: str = "", kb: Path | None = SMALL) -> Ran:
        base = ("--kb", str(kb)) if kb and words[0] != "jobs" else ()
        result = CliRunner().invoke(app, settings_first([*words, *base]), input=typed)
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        return Ran(result.exit_code, result.stdout, result.stderr)

    return run_


@pytest.fixture
def opened(run: Run) -> int:
    """The number of a job with two complaints."""
    ran = run("intake", "--title", "Small combo", *COMPLAINTS, "--json")
    assert ran.code == 0, ran.err
    return int(ran.json["number"])


@pytest.fixture
def process(jobs: Path) -> Run:
    """Runs a command in a process of its own, with nobody at a terminal."""

    def run_(*words: str, typed: str | bytes = "", **environment: str) -> Ran:
        given = typed.encode() if isinstance(typed, str) else typed
        own = {**os.environ, "CHOPSTICK_JOBS": str(jobs), "COLUMNS": "80", **environment}
        done = forked.command([*words], given, own)
        return Ran(done.code, done.out.decode(), done.err.decode())

    return run_
