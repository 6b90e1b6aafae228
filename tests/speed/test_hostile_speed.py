"""Files from outside that are made to cost much: what each costs to load, or to refuse (tests/knowledge/test_fuzz.py)."""

import time
from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.reasoning.deduce import Deducer
from chopstick.engine.reference.errors import KnowledgeError

from ..knowledge.conftest import write_base
from ..knowledge.test_fuzz import HOSTILE
from .conftest import Row
from .measure import within

pytestmark = pytest.mark.speed


def test_hostile_files(tmp_path: Path, row: Row) -> None:
    (tmp_path / "kb").mkdir()
    root, taken = write_base(tmp_path / "kb"), dict[str, float]()
    for kind, text in HOSTILE.items():
        ours = tmp_path / "ours.yaml"
        ours.write_text(text, encoding="utf-8", errors="surrogateescape")
        begun = time.process_time()
        try:
            Deducer(load.load(root, [Layer("shop", "shop", ours)]))
        except KnowledgeError as refused:
            assert refused.problems
        taken[kind] = time.process_time() - begun
    worst = max(taken, key=lambda kind: taken[kind])
    row(f"the worst of {len(taken)} hostile files of a shop ({worst}), loaded or refused", f"{taken[worst]:.2f} s", "2 s")
    assert taken[worst] < within(2)
