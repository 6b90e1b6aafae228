"""At run time the program calls nobody, and what it keeps is its user's alone."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

# Put on the path of a command under test: it ends the process at the first call to another machine.
WATCHER = """
import os, sys
def watch(event, args):
    if event in ("socket.getaddrinfo", "socket.gethostbyname") or event == "socket.connect" and not isinstance(args[1], str):
        os.write(2, f"CALLED OUT: {event} {args[1:]}".encode())
        os._exit(99)
sys.addaudithook(watch)
"""
AMP = ("--title", "a combo", "--complaint", "knob-crackle=it crackles", "--amp", "power-tube=6V6GT")
COMMANDS = [
    ("demo",),
    ("intake", *AMP),
    ("take", "1", "sweep-pot-ohms=jumps", "--hold", "discharged=2V", "--note", "rough"),
    ("show", "1"),
    ("jobs",),
    ("kb", "check"),
    ("kb", "show", "pot-track-dirty"),
    ("figure", "coupling.corner_Hz", "coupling_F=22n", "load_ohm=1M"),
    ("circuit", "volts", "single-ended-6v6gt"),
    ("rules", "check"),
    ("packs", "list"),
    ("--version",),
]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("home")
    (folder / "watcher").mkdir()
    (folder / "watcher" / "sitecustomize.py").write_text(WATCHER)
    return folder


def run(home: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """A command in a home of its own, with no mask on what it creates."""
    path = os.pathsep.join(filter(None, (str(home / "watcher"), os.environ.get("PYTHONPATH", ""))))
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("CHOPSTICK", "XDG_"))}
    command = [sys.executable, "-c", "from chopstick.cli.main import main; main()", *words]
    return subprocess.run(
        command, capture_output=True, text=True, timeout=300, umask=0, env={**kept, "HOME": str(home), "PYTHONPATH": path}
    )


def test_the_watcher_would_see_a_call(home: Path) -> None:
    code = "import socket; socket.create_connection(('127.0.0.1', 9))"
    path = os.pathsep.join(filter(None, (str(home / "watcher"), os.environ.get("PYTHONPATH", ""))))
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, env={**os.environ, "PYTHONPATH": path})
    assert ran.returncode == 99


@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: words[0])
def test_no_command_calls_another_machine(home: Path, words: tuple[str, ...]) -> None:
    ran = run(home, *words)
    assert ran.returncode in (0, 3), ran.stderr
    assert "CALLED OUT" not in ran.stderr


def test_what_is_kept_is_its_users_alone(home: Path) -> None:
    assert run(home, "intake", *AMP).returncode == 0
    kept = [path for path in home.rglob("*") if "chopstick" in path.relative_to(home).parts]
    assert any(path.is_file() for path in kept), "nothing was kept"
    open_ = [str(path) for path in kept if stat.S_IMODE(path.stat().st_mode) & 0o077]
    assert open_ == []
