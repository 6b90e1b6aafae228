"""Every reader fuzzed in turn, each in a process of its own: `python -m tests.fuzz.run [SECONDS] [READER ...]`.

Prints how many inputs each reader got, how many it took, and what was found; exit code 1 when anything was.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from .readers import READERS

SECONDS = 240


def main(seconds: int, names: list[str]) -> int:
    finds = Path(tempfile.mkdtemp(prefix="chopstick-finds-"))
    bad = False
    for name in names:
        command = [sys.executable, "-m", "tests.fuzz.one", name, str(finds), f"-max_total_time={seconds}"]
        ran = subprocess.run(command, capture_output=True, text=True, env={**os.environ, "OPENBLAS_NUM_THREADS": "1"})
        counts = [line for line in ran.stdout.splitlines() if line.startswith(f"{name}: ")]
        print(counts[-1] if counts else f"{name}: fewer than 100 inputs", flush=True)
        for find in sorted(finds.glob(f"{name}-*.txt")):
            bad = True
            print(f"{find}\n{find.read_text()}", flush=True)
        if ran.returncode:
            bad = True
            print(f"{name}: the fuzzer ended with {ran.returncode}\n{ran.stderr[-3000:]}", flush=True)
    return int(bad)


if __name__ == "__main__":
    given = sys.argv[1:]
    asked = int(given.pop(0)) if given and given[0].isdigit() else SECONDS
    sys.exit(main(asked, given or list(READERS)))
