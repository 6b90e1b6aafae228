"""The rules of a JSON file run in experta, in a process of its own; prints what it found and took as JSON.

The library this one rests on (frozendict 1.2, which it pins) names a class by a place that Python 3.10 took away; it
is put back here before the import, and nothing else is changed.
"""

import collections
import collections.abc
import json
import sys
import time
from pathlib import Path

collections.Mapping = collections.abc.Mapping  # type: ignore[attr-defined]

from experta import Fact, KnowledgeEngine, Rule  # noqa: E402


def engine_of(ways: list[tuple[list[str], list[str]]]) -> type[KnowledgeEngine]:
    """An engine with a rule a way: when all of some atoms are known, others are."""
    rules = {}
    for number, (present, gives) in enumerate(ways):

        def conclude(self: KnowledgeEngine, gives: list[str] = gives) -> None:
            for atom in gives:
                self.declare(Fact(atom=atom))

        conclude.__name__ = f"way{number}"
        rules[conclude.__name__] = Rule(*(Fact(atom=atom) for atom in present))(conclude)
    return type("Rules", (KnowledgeEngine,), rules)


if __name__ == "__main__":
    work = json.loads(Path(sys.argv[1]).read_text())
    begun = time.process_time()
    engine = engine_of(work["ways"])()
    engine.reset()
    made = time.process_time()
    for atom in work["facts"]:
        engine.declare(Fact(atom=atom))
        engine.run()
        found = {fact["atom"] for fact in engine.facts.values() if "atom" in fact}
    print(json.dumps({"made": made - begun, "told": time.process_time() - made, "found": sorted(found)}))
