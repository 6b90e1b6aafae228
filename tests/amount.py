"""How much is tried: enough to notice a slip in every run, and far more in the long one (`bash tests/run long`)."""

import os

LONG = os.environ.get("CHOPSTICK_LONG") == "1"


def amount(every_run: int, long: int) -> int:
    """How many examples, kills, jobs or cases this run tries. A test that asks is marked `long`, unless hypothesis
    makes its examples (those are marked already), so that the long run finds it."""
    return long if LONG else every_run
