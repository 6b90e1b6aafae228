"""Undo after undo in one sitting: the rule engine gives no memory back, so the facts told are taken back instead.

Counted in a process of its own, on the shipped knowledge: each turn takes the last answer back and gives it again.
"""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from .conftest import Row
from .measure import within

pytestmark = pytest.mark.speed
TURNS = 1_200  # durable_rules has room for 1,024 states in a process
SCRIPT = """
import json, resource, sys, time
from datetime import datetime
from chopstick.engine.knowledge import load
from chopstick.engine.reasoning.deduce import compiled
from chopstick.engine.reasoning.log import Answer, Complaint, Opened, Undone
from chopstick.engine.reasoning.session import Session

at = datetime(2026, 1, 1)
base = load.load()
session = Session(base)
heard = {atom for rule in base.rules.values() for way in compiled(rule).when for atom in way.present}
said = next(
    Answer(at=at, check=check.id, answer=key)
    for check in base.checks.values()
    for key, answer in check.answers.items()
    if any(f"finding:{finding}" in heard for finding in answer.findings)
)
log = [Opened(at=at, title="undo", fingerprint=base.fingerprint)]
log += [Complaint(at=at, says=id_, symptom=id_) for id_ in sorted(base.symptoms)[:3]]
log.append(said)
session.read(log)

def used_MB():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)

before, begun = used_MB(), time.process_time()
for _ in range(int(sys.argv[1])):
    session.read([*log, Undone(at=at, number=len(log))])
    session.read(log)
print(json.dumps({"MB": used_MB() - before, "undo_s": (time.process_time() - begun) / int(sys.argv[1])}))
"""


def test_undo_after_undo(row: Row) -> None:
    ran = subprocess.run([sys.executable, "-c", SCRIPT, str(TURNS)], capture_output=True, text=True, check=True, timeout=300)
    told = json.loads(ran.stdout)
    row(
        f"{TURNS:,} undos in one sitting, each answer then given again",
        f"{told['undo_s'] * 1e3:.0f} ms a turn, {told['MB']:.0f} MB grown in all",
        "no more than 50 MB",
    )
    assert told["MB"] < 50
    assert told["undo_s"] < within(0.050)
