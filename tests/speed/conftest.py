"""Every figure is printed, and kept as a row for the table (see table.py)."""

from __future__ import annotations

import gc
import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

Row = Callable[[str, str, str], None]


@pytest.fixture
def row(request: pytest.FixtureRequest, capsys: pytest.CaptureFixture[str]) -> Row:
    """Tells a figure: what was measured, what it is, and the target ('' for none)."""

    def tell(what: str, is_: str, target: str = "") -> None:
        with capsys.disabled():
            print(f"\n  {what}: {is_}" + (f" (target: {target})" if target else ""))
        if kept := os.environ.get("CHOPSTICK_SPEED_ROWS"):
            test = f"{request.path.name}::{request.function.__name__}"
            with Path(kept).open("a", encoding="utf-8") as stream:
                stream.write(json.dumps({"what": what, "is": is_, "target": target, "test": test}) + "\n")

    return tell


@pytest.fixture
def at_the_bench() -> Iterator[None]:
    """Garbage is looked for as seldom as cli/main.py and cli/bench.py have it, and not in what was there before."""
    before = gc.get_threshold()
    gc.set_threshold(200_000)
    gc.collect()
    gc.freeze()
    yield
    gc.unfreeze()
    gc.set_threshold(*before)
