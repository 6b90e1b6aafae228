"""How speed is measured: by processor time, so that what else the machine does counts little."""

from __future__ import annotations

import os
import resource
import subprocess
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

# Processor time on a busy machine runs longer too, since caches and cores are shared: every target is asserted with
# this margin. On an idle machine it should hold without.
BUSY = 1.5
# What the yardstick below takes on the machine that the targets are meant for: one on which a bare interpreter starts
# in 20 ms where this checkout is installed to be edited (in 8 to 10 ms elsewhere). Measured side by side, it is 0.37 of
# that start.
YARDSTICK_S = 0.0075
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}  # idle threads would count as work


def processor_s(what: Callable[[], object], times: int = 5) -> float:
    """The least processor time of some runs, in seconds."""
    taken = []
    for _ in range(times):
        begun = time.process_time()
        what()
        taken.append(time.process_time() - begun)
    return min(taken)


def slower() -> float:
    """How many times as long as on the machine of the targets work of the engine's kind takes on this one, now; no less
    than 1. It may change by half within minutes, where a machine is shared."""
    return max(1.0, processor_s(_yardstick) / YARDSTICK_S)


def within(target_s: float) -> float:
    """What a target comes to on this machine, as it is now, in seconds."""
    return target_s * BUSY * slower()


def _yardstick() -> None:
    table, kept = np.ones((2, 2, 2, 16)), dict[int, float]()
    for number in range(3000):
        table = table * 0.5 + table[::-1] * 0.5
        kept[number % 97] = float(table.sum())


def least_s(benchmark: BenchmarkFixture, what: Callable[[], object]) -> float:
    """The least of a benchmark's runs, in seconds; where benchmarks are off, as when tests run side by side, of runs of
    our own."""
    return float(benchmark.stats.stats.min) if benchmark.stats else processor_s(what)


def child_s(command: Sequence[str], environment: Mapping[str, str], times: int = 7) -> float:
    """The least processor time of some runs of a command, in seconds."""
    taken = []
    for _ in range(times):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, env=dict(environment), stdin=subprocess.DEVNULL, capture_output=True, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(taken)


def installed(folder: Path) -> dict[str, str]:
    """The environment of a child as it is where the program is installed: modules are kept compiled (below a folder of
    ours), and so is the knowledge."""
    unset = ("PYTHONDONTWRITEBYTECODE", "CHOPSTICK_SHOP", "CHOPSTICK_STORE", "CHOPSTICK_LEVEL")
    ours = {"PYTHONPYCACHEPREFIX": str(folder / "compiled"), "XDG_CACHE_HOME": str(folder / "cache"), **ONE_THREAD}
    return {**{name: value for name, value in os.environ.items() if name not in unset}, **ours}


def exponent(sizes: Sequence[float], seconds: Sequence[float]) -> float:
    """The power of size by which time grows: the slope of the least-squares line through the logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])


def n_log_n(smallest: float, largest: float) -> float:
    """The exponent that n log n itself would show between two sizes, for log n counted in entries."""
    return 1 + float(np.log(np.log(largest) / np.log(smallest)) / np.log(largest / smallest))
