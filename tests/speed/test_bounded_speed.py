"""Any number of complaints and answers on one job: what it takes to show it and to take an entry, each in a process of its
own. What of it is an estimate is told beside it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from .conftest import Row
from .measure import ONE_THREAD, within

pytestmark = pytest.mark.speed
ROOT = Path(__file__).parents[2]
JOBS = ("complaints 10", "complaints 40", "complaints 143", "answers 200", "answers 400", "first answers 0", "last answers 0")
MOST_MB = 300


@pytest.mark.parametrize("kind", JOBS)
def test_a_job_of_any_size(kind: str, row: Row) -> None:
    command = [sys.executable, "-m", "tests.speed.crowded_job", *kind.rsplit(" ", 1)]
    ran = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT, env={**os.environ, **ONE_THREAD})
    told = json.loads(ran.stdout)
    row(
        f"a job with {kind.removesuffix(' 0')}{' of every check' if kind.endswith(' 0') else ''}: shown, and an entry taken",
        f"{told['shown_s']:.1f} s and {told['taken_s']:.1f} s, {told['most_MB']:.0f} MB, "
        + ("exact" if told["bound"] == 0 else "estimated"),
        f"2 s each, {MOST_MB} MB",
    )
    assert told["shown_s"] < within(2)
    assert told["taken_s"] < within(2)
    assert told["most_MB"] < MOST_MB
