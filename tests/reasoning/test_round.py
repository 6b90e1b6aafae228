"""The round of checks for an amp with no complaint, on a bench small enough to add up by hand."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.check_over import SHARE, round_of_checks
from chopstick.engine.reasoning.log import LogEntry
from chopstick.engine.reasoning.session import Session

from .conftest import read, with_rule

Job = Callable[..., list[LogEntry]]


def chosen(base: KnowledgeBase, log: list[LogEntry], minutes: float) -> list[str]:
    return [check.id for check in round_of_checks(read(base, log), minutes)]


def changed(base: KnowledgeBase, **checks: dict[str, object]) -> KnowledgeBase:
    """The bench with some checks that are otherwise; underlines for the dashes of their ids."""
    area = base.areas["small"]
    update = {id_.replace("_", "-"): values for id_, values in checks.items()}
    dumped = {id_: area.checks[id_].model_dump(exclude_defaults=True) for id_ in update}
    ours = {id_: model.Check.model_validate({**dumped[id_], **values}) for id_, values in update.items()}
    return replace(base, areas={"small": area.model_copy(update={"checks": {**area.checks, **ours}})})


def test_an_hour_sees_each_fault_once(base: KnowledgeBase, job: Job) -> None:
    """The ohmmeter has seen a leaky capacitor, so its DC is not measured as well; dark plates show no fault."""
    assert chosen(base, job(), 60) == ["look-at-plug", "pot-ohms", "idle", "turn-it"]


def test_what_a_safety_check_has_seen_is_not_looked_for_again(base: KnowledgeBase, job: Job) -> None:
    """The plug is looked at for safety, and shows whether there is an earth: no second look for that."""
    earth, plates = base.checks["look-at-plug"].answers, base.checks["look-at-plates"].answers
    assert "look-at-plates" not in chosen(changed(base, look_at_plates={"answers": earth}), job(), 600)
    swapped = changed(base, look_at_plates={"answers": earth}, look_at_plug={"answers": plates})
    assert "look-at-plates" in chosen(swapped, job(), 600), "nothing else would show it"


def test_without_the_cold_check_the_live_one_is_worth_its_time(base: KnowledgeBase, job: Job) -> None:
    ours = with_rule(base, {"unknown": "no-earth"}, {"skip": "pot-ohms"}, {"skip": "look-at-plug"})
    assert chosen(ours, job(), 60) == ["look-at-plug", "pot-dc", "idle", "turn-it"], "a safety check is never left out"


def test_the_time_is_dealt_out_by_stage_of_work(base: KnowledgeBase, job: Job) -> None:
    """Of 20 minutes 4 are for looking, 4 for cold work, 2 for first power, 6 for live work and 4 for playing. 8 by then,
    the 4 of the ohmmeter and the 4 to get there just fit; nothing is left over, 8 come by the live work, of which the 3
    to get there leave too few for the 6 of the idle. A little less, and the time goes to the live work."""
    assert sum(SHARE.values()) == pytest.approx(1)
    assert chosen(base, job(), 20) == ["look-at-plug", "pot-ohms", "turn-it"]
    assert chosen(base, job(), 19.9) == ["look-at-plug", "pot-dc", "idle", "turn-it"]
    assert chosen(base, job(), 0) == ["look-at-plug"], "what bears on safety is done whatever the time"


def test_what_finds_too_little_for_its_time_is_left_out(base: KnowledgeBase, job: Job) -> None:
    """20 amps in 1,000 with a lost bias, shown 95 times in 100: 19 in 1,000 in up to 19 minutes is worth a healthy
    amp's time, and no longer."""
    assert "idle" in chosen(changed(base, idle={"minutes": 18.9}), job(), 600)
    assert "idle" not in chosen(changed(base, idle={"minutes": 19.1}), job(), 600)


def test_what_makes_sense_only_on_suspicion_is_left_out(base: KnowledgeBase, job: Job) -> None:
    assert "turn-it" in chosen(base, job(), 600)
    assert "turn-it" not in chosen(changed(base, turn_it={"check_over": False}), job(), 600)


def test_a_safety_check_brings_what_must_be_done_before_it(base: KnowledgeBase, job: Job) -> None:
    """The look at the plug waits for the sweep of the pot here, that one for a look at the plates: all three come, each
    after its forerunner where the stage of work allows it, and those for safety first in their stage."""
    cold = {"stage": "cold", "cautions": ("unplugged", "discharge")}
    ours = changed(
        base,
        look_at_plug={**cold, "after": ("pot-ohms",)}, pot_ohms={"after": ("look-at-plates",)}, look_at_plates=cold,
    )  # fmt: skip
    assert chosen(ours, job(), 0) == ["look-at-plug", "look-at-plates", "pot-ohms"]


def test_a_check_waits_for_its_forerunner(base: KnowledgeBase, job: Job) -> None:
    """The turn of the knob waits for the DC, which adds nothing once the ohmmeter has seen the leak."""
    assert "turn-it" not in chosen(changed(base, turn_it={"after": ("pot-dc",)}), job(), 60)
    assert "turn-it" in chosen(changed(base, turn_it={"after": ("pot-ohms",)}), job(), 60)


def test_what_this_amp_has_not_is_not_checked(base: KnowledgeBase, job: Job, session: Session) -> None:
    needing = changed(base, turn_it={"needs": {"reverb": "present"}})
    assert "turn-it" in chosen(needing, job(amp={"reverb": "present"}), 60)
    assert "turn-it" not in chosen(needing, job(amp={"reverb": "absent"}), 60)
    assert not [check for check in round_of_checks(session.read(job()), 60) if check.id.startswith("again-")]
