"""The command line over a small knowledge base, in this process and in one of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from chopstick.cli.main import app, settings_first
from typer.testing import CliRunner

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
    """Runs a command in a process of its own, with pipes for input and output."""

    def run_(*words: str, typed: str | bytes = "", **environment: str) -> Ran:
        done = subprocess.run(
            [sys.executable, "-m", "chopstick.cli.main", *words],
            input=typed.encode() if isinstance(typed, str) else typed,
            capture_output=True,
            env={**os.environ, "CHOPSTICK_JOBS": str(jobs), "COLUMNS": "80", **environment},
            timeout=300,
        )
        return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())

    return run_
