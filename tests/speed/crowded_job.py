"""A job with very much said of it, shown and one more entry taken, in a process of its own; prints what it took as JSON."""

from __future__ import annotations

import json
import random
import sys
import time
from datetime import UTC, datetime

from chopstick.engine.knowledge import cache
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.log import Answer, Complaint, LogEntry, Note, Opened, Reading
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reports.standing import standing_of

from .whole_job import most_memory_MB

AT = datetime(2026, 1, 1, tzinfo=UTC)


def crowded(base: KnowledgeBase, kind: str, count: int, seed: int = 1) -> list[LogEntry]:
    """`complaints`, or `answers` to checks drawn at random; `first answers` and `last answers` are those of every check."""
    draw = random.Random(seed)
    log: list[LogEntry] = [Opened(at=AT, title="crowded", fingerprint=base.fingerprint)]
    symptoms = draw.sample(sorted(base.symptoms), min(count, len(base.symptoms)) if kind == "complaints" else 1)
    log += [Complaint(at=AT, says="it does", symptom=one) for one in symptoms]
    if kind == "complaints":
        return log
    chosen = draw.sample(sorted(base.checks), min(count, len(base.checks))) if count else list(base.checks)
    for check in (base.checks[id_] for id_ in chosen):
        place = draw.random() if kind == "answers" else float(kind == "last answers")
        if check.answers:
            keys = list(check.answers)
            log.append(Answer(at=AT, check=check.id, answer=keys[min(int(place * len(keys)), len(keys) - 1)]))
        else:
            values = {name: low + place * (high - low) for name, reading in check.readings.items() for low, high in [reading.plausible]}
            log.append(Reading(at=AT, check=check.id, values=values, believed=True))
    return log


def main(kind: str, count: int) -> None:
    base = cache.load()
    log = crowded(base, kind, count)
    begun = time.process_time()
    now = Session(base).read(log)
    standing_of(now, log)
    shown = time.process_time() - begun
    session = Session(base)
    session.read(log)
    begun = time.process_time()
    log.append(Note(at=AT, text="one more"))
    standing_of(session.read(log), log)
    taken = time.process_time() - begun
    bound = now.ranking.posterior.bound
    print(json.dumps({"shown_s": shown, "taken_s": taken, "most_MB": most_memory_MB(), "bound": bound}))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
