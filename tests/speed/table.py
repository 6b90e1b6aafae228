"""The table of speeds in README.md beside this file: every row is a figure that a test here measures.

    bash tests/run speed     measure, print the table and renew it; on a quiet machine

No other run renews it, since figures differ from machine to machine; test_table.py holds each row to its test.
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
README = HERE / "README.md"
TABLE = re.compile(r"(<!-- speeds: .*? -->\n)(.*?)(<!-- end of speeds -->)", re.DOTALL)
RUN = ("-q", "-m", "speed", "-p", "no:cacheprovider", "-p", "no:xdist", str(HERE))


def measured() -> list[dict[str, str]]:
    """The rows that one run of the tests here told."""
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(folder) / "rows"
        ran = subprocess.run(
            [sys.executable, "-m", "pytest", *RUN], env={**os.environ, "CHOPSTICK_SPEED_ROWS": str(kept)},
            cwd=HERE.parents[1], check=False,
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


if __name__ == "__main__":
    told = written(measured())
    print(told)
    README.write_text(TABLE.sub(lambda match: match[1] + told + match[3], README.read_text()))
