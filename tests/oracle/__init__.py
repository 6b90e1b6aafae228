"""An oracle on safety, written apart from the planner: from the knowledge base and the log alone it knows how the amp
stands and names every breach, in what was entered and in what is about to be offered.

`amp.py` says what is plugged in, charged, on the limiter, hot, and clipped on; `danger.py` what the findings forbid;
`judge.py` judges each step by both. None of them asks the plan, the holds, the set-up or the gate.
"""

from .judge import Breach, Oracle, Watching

__all__ = ["Breach", "Oracle", "Watching"]
