"""The table of speeds in README.md: every row is a figure that a test here measures.

    python -m tests.speed.table --write     measure, once, on a quiet machine, and renew the table

No test renews it, since figures differ from machine to machine; one holds each row to its test.
"""

from __future__ import annotations

import json
import os
import platform
import re
import subprocess
import sys
import tempfile
from datetime import date
from pathlib import Path

from .measure import slower

HERE = Path(__file__).parent
README = HERE.parents[1] / "README.md"
TABLE = re.compile(r"(<!-- speeds: .*? -->\n)(.*?)(<!-- end of speeds -->)", re.DOTALL)


def measured() -> list[dict[str, str]]:
    """The rows that one run of the tests here told."""
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(folder) / "rows"
        ran = subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", f"--ignore={HERE / 'test_table.py'}", str(HERE)],
            env={**os.environ, "CHOPSTICK_SPEED_ROWS": str(kept)}, cwd=README.parent, check=False,
        )  # fmt: skip
        if ran.returncode:
            raise SystemExit("a test of speed failed: the table stays as it is")
        return [json.loads(line) for line in kept.read_text(encoding="utf-8").splitlines()]


def machine() -> str:
    model = platform.processor() or platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists() and (named := re.search(r"model name\s*: (.+)", cpuinfo.read_text())):
        model = named[1]
    named = f"{model}, {os.cpu_count()} processors, {platform.system()}, Python {platform.python_version()}"
    return f"{named}; {slower():.1f} times as slow as the machine that the targets are meant for (tests/speed/measure.py)"


def written(rows: list[dict[str, str]]) -> str:
    lines = [f"Measured on {date.today():%Y-%m-%d}: {machine()}.", "", "| what | measured | target | test |", "|---|---|---|---|"]
    lines += [f"| {row['what']} | {row['is']} | {row['target']} | `{row['test']}` |" for row in rows]
    return "\n".join(lines) + "\n"


if __name__ == "__main__" and "--write" in sys.argv:
    told = written(measured())
    README.write_text(TABLE.sub(lambda match: match[1] + told + match[3], README.read_text()))
