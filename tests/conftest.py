"""The tests sum in one thread, as the program does (cli/main.py): it must be said before numpy is imported."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
