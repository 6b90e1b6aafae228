"""Jobs read in processes of their own that end after a few, since the rule engine never gives memory back."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar

from ...late import late

with late():
    import multiprocessing

JOBS_A_PROCESS = 6
T = TypeVar("T")


def pool(processes: int = 2) -> ProcessPoolExecutor:
    """Processes that each take one portion and end."""
    return ProcessPoolExecutor(processes, mp_context=multiprocessing.get_context("spawn"), max_tasks_per_child=1)


def portions(jobs: Sequence[T], each: int = JOBS_A_PROCESS) -> list[tuple[T, ...]]:
    return [tuple(jobs[start : start + each]) for start in range(0, len(jobs), each)]
