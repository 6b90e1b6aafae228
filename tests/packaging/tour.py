"""The README and the manual: their commands are run for real, and what they print stands below them.

    python -m tests.packaging.tour --write     renew the blocks

Each page is run in a fresh folder of jobs. `> /dev/null` after a command leaves out what it prints.
"""

from __future__ import annotations

import os
import re
import shlex
import sys
import tempfile
from pathlib import Path

from .. import forked

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
PAGES = (README, *sorted((ROOT / "cli" / "manual").glob("*.md")))
QUIET = " > /dev/null"
DATED = re.compile(r"as of \d{4}-\d\d-\d\d")  # papers carry the date of the job's latest entry
PLACED = re.compile(r"(\bkb/\S+\.yaml):\d+:\d+")  # lines move with every entry that is added above
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)


def run(commands: list[str], jobs: str) -> str:
    """What a person sees who types the commands one after another, 80 columns wide, without color."""
    environment = {**os.environ, "COLUMNS": "80", "NO_COLOR": "1", "CHOPSTICK_JOBS": jobs}
    seen = ""
    for command in commands:
        words = shlex.split(command.removesuffix(QUIET))
        assert words[0] == "chopstick", command
        done = forked.command(words[1:], environment=environment)
        said = "" if command.endswith(QUIET) else done.out.decode()
        told = DATED.sub("as of TODAY", (said + done.err.decode()).replace(jobs, "JOBS"))
        lines = PLACED.sub(r"\1", told).splitlines()
        seen += f"$ {command}\n" + "".join(f"{line.rstrip()}\n" for line in lines)
    return seen


def renewed(text: str) -> str:
    """A page with every console block run again, in order, in one fresh folder of jobs."""
    with tempfile.TemporaryDirectory() as jobs:

        def again(match: re.Match[str]) -> str:
            commands = [line[2:] for line in match[1].splitlines() if line.startswith("$ ")]
            return f"```console\n{run(commands, jobs)}```"

        return BLOCK.sub(again, text)


if __name__ == "__main__" and "--write" in sys.argv:
    for page in PAGES:
        page.write_text(renewed(page.read_text()))
