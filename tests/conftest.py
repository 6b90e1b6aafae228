"""What holds for every test: one thread for sums, and how hypothesis makes its examples."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as cli/main.py has it: it must be said before numpy is imported

from hypothesis import HealthCheck, settings

from .amount import LONG, amount

# No clock: a slow machine fails no test. The same examples in every run; the long run draws new ones each time.
settings.register_profile(
    "chopstick",
    deadline=None,
    derandomize=not LONG,
    max_examples=amount(40, 1000),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.load_profile("chopstick")
