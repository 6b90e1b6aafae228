"""The ranking, scored on bench cases that ngspice solved (see generator.py).

A case counts when every fault in it moves some reading by more than 10 per cent (with the other fault there, if there
are two). Faults that no reading at any test point can tell apart count as one. The long run tries many more cases.
"""

from collections import defaultdict

import numpy as np
import pytest
from chopstick.engine.circuit.classes import alike
from chopstick.engine.circuit.dictionary import Dictionary, build_dictionary
from chopstick.engine.circuit.files import load_archetype
from chopstick.engine.circuit.rank import rank

from ..amount import amount
from ..peers.spice import need_ngspice
from .generator import Case, sample

NAMES = ("cathode-biased-2x6v6gt-split-load", "fixed-bias-2xel34-cathode-follower", "fixed-bias-2x6l6gc-reverb-tremolo")
SINGLES, PAIRS = amount(28, 700), amount(13, 400)  # drawn for each circuit; not all of them count


@pytest.fixture(scope="module")
def dictionaries() -> dict[str, Dictionary]:
    need_ngspice()
    return {name: build_dictionary(load_archetype(name).circuit) for name in NAMES}


def places(dictionary: Dictionary, case: Case) -> tuple[list[int], list[str]]:
    """Where each injected fault stands in the ranking (99: not among the first six classes), and who leads it."""
    ranking = rank(dictionary, case.readings)
    found = dict.fromkeys(case.faults, 99)
    taken: set[str] = set()
    leaders: list[str] = []
    for candidate in ranking.candidates:
        if candidate.fault in taken or len(leaders) == 6:
            continue
        same = {candidate.fault, *alike(dictionary, candidate.row)}
        taken |= same
        for fault in same & set(found):
            found[fault] = min(found[fault], len(leaders))
        leaders.append(candidate.fault)
    return list(found.values()), leaders


def cases(dictionary: Dictionary, count: int, faults: int, rng: np.random.Generator) -> list[Case]:
    pool = [fault for fault in dictionary.faults if not fault.only_ac]
    drawn: list[Case] = []
    for _ in range(count):
        chosen = [pool[k] for k in rng.choice(len(pool), faults, replace=False)]
        if len({fault.stage for fault in chosen}) < faults:
            continue
        case = sample(dictionary, chosen, rng)
        if case is not None and all(case.moved):
            drawn.append(case)
    return drawn


@pytest.mark.long
def test_one_fault(dictionaries: dict[str, Dictionary], capsys: pytest.CaptureFixture[str]) -> None:
    table: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    missed: list[str] = []
    for name, dictionary in dictionaries.items():
        for case in cases(dictionary, SINGLES, 1, np.random.default_rng(11)):
            place, leaders = places(dictionary, case)
            row = table[dictionary.fault(case.faults[0]).kind]
            row[0] += 1
            row[1] += place[0] == 0
            row[2] += place[0] < 3
            if place[0]:
                missed.append(
                    f"    {name}: {case.faults[0]} at place {place[0] + 1}; ahead: {', '.join(leaders[: place[0]][:2])}"
                )
    total, first, third = (sum(row[k] for row in table.values()) for k in range(3))
    with capsys.disabled():
        print(
            f"\n  one fault: first {first}/{total} ({first / total:.1%}), in the first three {third}/{total} ({third / total:.1%})"
        )
        for kind, row in sorted(table.items()):
            print(f"    {kind:22} {row[0]:4} cases {row[1]:4} first {row[2]:4} in three")
        print("\n".join(missed))
    assert total >= 1.2 * SINGLES
    assert first / total >= 0.92
    assert third / total >= 0.99


@pytest.mark.long
def test_two_faults(dictionaries: dict[str, Dictionary], capsys: pytest.CaptureFixture[str]) -> None:
    total = both = 0
    missed: list[str] = []
    for name, dictionary in dictionaries.items():
        for case in cases(dictionary, PAIRS, 2, np.random.default_rng(12)):
            place, leaders = places(dictionary, case)
            total += 1
            both += max(place) < 4
            if max(place) >= 4:
                missed.append(f"    {name}: {' and '.join(case.faults)}; ranked {', '.join(leaders[:3])}")
    with capsys.disabled():
        print(f"\n  two faults: both in the first four {both}/{total} ({both / total:.1%})")
        print("\n".join(missed))
    assert total >= 1.2 * PAIRS
    assert both / total >= 0.90
