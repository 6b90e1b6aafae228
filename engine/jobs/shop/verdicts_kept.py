"""What was shown in closed jobs, kept on the disk: reading a job again takes a tenth of a second, and it is closed.

One file for each knowledge base and program, in the user's cache folder; a line of JSON for each job, by the hash of
its log. Safe to delete at any time, and believed only while nobody else could have written it.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from ...folders import make_private, plain_bytes
from ...knowledge.cache import ours
from ...late import late

with late():
    import platformdirs

MOST_BYTES = 50_000_000  # of one file; a job takes a few hundred
MOST_FILES = 4
ROOMS = ("reasoning", "bench", "circuit", "devices")  # whose modules say what is shown

Causes = tuple[tuple[str, float], ...]  # by cause, how probable it was shown


def default_folder() -> Path:
    return Path(platformdirs.user_cache_dir("chopstick", appauthor=False)) / "calibration"


def key(fingerprint: str) -> str:
    """The name of the file of a knowledge base, by its fingerprint, with this program."""
    digest = hashlib.sha256(fingerprint.encode())
    engine = Path(__file__).parents[2]
    for source in sorted(path for room in ROOMS for path in (engine / room).glob("*.py")):
        digest.update(source.read_bytes())
    return digest.hexdigest()


def read(folder: Path, name: str) -> dict[str, Causes]:
    """What is kept, by the hash of a job's log. A file that can't be read costs time and nothing else."""
    path, found = folder / f"{name}.jsonl", {}
    try:
        if not (ours(path.lstat()) and ours(folder.stat())):
            return {}
        for line in plain_bytes(path, MOST_BYTES).splitlines():
            with suppress(ValueError, TypeError, KeyError, RecursionError):  # a line that was cut off
                kept = json.loads(line)
                found[str(kept["log"])] = tuple((str(cause), _share(p)) for cause, p in kept["shown"])
    except OSError:
        return {}
    return found


def _share(value: object) -> float:
    number = float(str(value))
    if not 0 <= number <= 1:
        raise ValueError("no probability")
    return number


def add(folder: Path, name: str, new: Mapping[str, Causes]) -> None:
    """Keep what is new. A folder that can't be written costs time and nothing else."""
    lines = "".join(json.dumps({"log": log, "shown": causes}) + "\n" for log, causes in new.items())
    with suppress(OSError):
        make_private(folder)
        handle = os.open(folder / f"{name}.jsonl", os.O_WRONLY | os.O_CREAT | os.O_APPEND | os.O_NOFOLLOW, 0o600)
        with open(handle, "a", encoding="ascii") as stream:
            stream.write(lines)
        _leave(folder.glob("*.jsonl"))


def _leave(files: Iterable[Path]) -> None:
    older: Sequence[Path] = sorted(files, key=lambda one: one.stat().st_mtime_ns, reverse=True)
    for one in older[MOST_FILES:]:
        one.unlink()
