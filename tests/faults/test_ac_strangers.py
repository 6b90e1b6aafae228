"""Faults that only AC shows, ranked on amps that the program's own models did not make (ac_strangers.py).

Read are the DC volts of every test point, ripple, hum and the levels of a signal: at 1 kHz, or at three frequencies. The
long run takes all circuits and the seed HELD_OUT; the ordinary one a single circuit.
"""

import pytest

from ..amount import LONG
from ..peers.spice import need_ngspice
from .ac_strangers import AcCase, AcScore, ac_cases, ac_score
from .strangers import HELD_OUT, TUNING, circuits


@pytest.fixture(scope="module")
def drawn() -> list[AcCase]:
    need_ngspice()
    if LONG:
        return [case for name in circuits() for case in ac_cases(name, 14, 10, HELD_OUT)]
    return list(ac_cases("single-ended-6v6gt", 8, 2, TUNING))


def scored(drawn: list[AcCase], swept: bool) -> tuple[list[AcScore], list[AcScore]]:
    """The faulty ones that show in what was read, and the healthy ones."""
    found = [one for case in drawn if (one := ac_score(case, swept))]
    return [one for one in found if one.case.fault], [one for one in found if not one.case.fault]


@pytest.mark.parametrize("swept", [False, True])
def test_a_fault_that_only_ac_shows(drawn: list[AcCase], swept: bool, capsys: pytest.CaptureFixture[str]) -> None:
    faulty, healthy = scored(drawn, swept)
    first = sum(one.place == 0 for one in faulty) / len(faulty)
    three = sum(one.place < 3 for one in faulty) / len(faulty)
    accused = [one.case.circuit for one in healthy if one.accused]
    with capsys.disabled():
        how = "three frequencies" if swept else "1 kHz"
        print(
            f"\n  {how}: {len(faulty)} faults, first {first:.1%}, in three {three:.1%}; accused {len(accused)} of {len(healthy)}"
        )
        for one in faulty:
            if one.place:
                print(f"    {one.case.circuit}, {one.case.family}: {one.case.fault}; ranked {one.leaders[:3]}")
    assert len(faulty) >= (130 if LONG else 4)
    assert first >= 0.75
    assert three >= 0.90
    assert len(accused) <= (len(healthy) // 10 if LONG else 0)
