"""How much is tried: enough to notice a slip in every run, and far more in the long one (`bash tests/run long`)."""

import os

LONG = os.environ.get("CHOPSTICK_LONG") == "1"
TIMES = float(os.environ.get("CHOPSTICK_TIMES", "1"))  # how many times the long run's own counts


def amount(every_run: int, long: int) -> int:
    """How many examples, kills, jobs or cases this run tries. A test that asks is marked `long`, unless hypothesis
    makes its examples (those are marked already), so that the long run finds it. Where less is more (every seventh,
    every one) the long run takes what it is given, whatever CHOPSTICK_TIMES says."""
    if not LONG:
        return every_run
    return max(every_run, round(long * TIMES)) if long > every_run else long
