"""One whole job on a made-up knowledge base, in a process of its own; prints what it took as JSON.

Four causes are picked at random as the truth; every check is answered as they would have it. Answers are timed by the
processor's time in one thread: on an idle machine that is the time that passes, and on a busy one it does not count
what others do.
"""

import gc
import json
import random
import resource
import sys
import time
from datetime import datetime
from pathlib import Path
from statistics import median

from chopstick.engine.knowledge import cache
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.answers import entry
from chopstick.engine.reasoning.log import Complaint, HoldAnswered, LogEntry, Opened, RepairDone
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reasoning.steps import Step

AT = datetime(2026, 1, 1)


def work(base: KnowledgeBase, number: int) -> dict[str, float]:
    truth = random.Random(number).sample(list(base.causes.values()), 4)
    shown = {finding for cause in truth for finding in cause.shows}
    log: list[LogEntry] = [Opened(at=AT, title="large", fingerprint=base.fingerprint)]
    log += [Complaint(at=AT, says=id_, symptom=id_) for id_ in sorted(shown) if id_ in base.symptoms]
    begun = time.process_time()
    session, times, spoken = Session(base), [], 0
    now = session.read(log)
    assert now.next
    first = time.process_time() - begun
    while len(times) < 120 and now.next.kind not in ("done", "held"):
        log.append(_answered(base, now.next, shown))
        begun = time.process_time()
        now = session.read(log)
        assert all(part is not None for part in (now.next, now.conflicts, now.complaints))  # all that the screen tells
        times.append(time.process_time() - begun)
        spoken = len(now.deduction.spoken)
    return {
        "answers": len(times), "first_s": first, "median_s": median(times), "slowest_s": max(times), "spoken": spoken,
        "most_MB": most_memory_MB(),
    }  # fmt: skip


def most_memory_MB() -> float:
    """The most this process ever held. Linux counts into getrusage what the process that started this one held."""
    if sys.platform == "linux":
        status = Path("/proc/self/status").read_text()
        return int(status.partition("VmHWM:")[2].split()[0]) / 1e3
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)


def _answered(base: KnowledgeBase, step: Step, shown: set[str]) -> LogEntry:
    if step.kind == "hold":
        return HoldAnswered(at=AT, hold=step.id, cleared=True)
    if step.kind == "repair":
        return RepairDone(at=AT, repair=step.id, cause=step.cause)
    check = base.checks[step.id]
    key = next((key for key, answer in check.answers.items() if shown.intersection(answer.findings)), "no")
    return entry(check, key, AT)


if __name__ == "__main__":
    root, folder, number = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
    gc.set_threshold(200_000)  # as cli/main.py has it
    begun = time.process_time()
    base = cache.load(root, folder=folder)
    loaded = time.process_time() - begun
    gc.freeze()  # as at the bench
    print(json.dumps({"loaded_s": loaded, **work(base, number)}))
