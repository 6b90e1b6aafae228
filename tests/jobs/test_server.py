"""The commands work on a shop's server as on a bench's own file."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from chopstick.cli.main import app
from chopstick.engine.jobs.store.errors import JobError
from chopstick.engine.jobs.store.store import open_store
from typer.testing import CliRunner

from .conftest import Cluster

SMALL = str(Path(__file__).parents[1] / "cli" / "kb")


@pytest.fixture
def shop(cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    url = cluster.new()
    monkeypatch.setenv("CHOPSTICK_STORE", url)
    monkeypatch.setenv("CHOPSTICK_JOBS", str(tmp_path / "jobs"))
    return url


def run(*words: str, code: int = 0) -> str:
    done = CliRunner().invoke(app, words)
    assert done.exit_code == code, done.output
    return done.stdout


def test_a_job_from_intake_to_backup(shop: str, tmp_path: Path) -> None:
    told = json.loads(run("intake", "--title", "Small combo", "--complaint", "crackle=scratchy", "--json", "--kb", SMALL))
    assert told["number"] == 1
    assert told["path"].startswith("postgresql://")
    run("take", "1", "sweep-ohms=rough", "--hold", "discharged=yes", "--kb", SMALL)
    assert "rough" in run("show", "1", "--log", "--kb", SMALL)
    assert "Small combo" in run("queue", "--kb", SMALL)
    assert "1 job in postgresql://" in run("jobs", "check")
    run("jobs", "backup", str(tmp_path / "kept"))
    run("jobs", "import", str(tmp_path / "kept"), "--jobs", str(tmp_path / "bench"))
    assert run("jobs", "export") == run("jobs", "export", "--jobs", str(tmp_path / "bench"))
    assert not (tmp_path / "jobs").exists()  # nothing of the shop's is kept on the bench


def test_a_missing_driver_is_named_with_the_line_that_installs_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(JobError, match=r"pip install 'chopstick\[postgresql\]'"):
        open_store(tmp_path, "postgresql://bench@shop/jobs")
