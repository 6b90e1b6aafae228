"""A bench of four causes, one rule that chains, two standing holds and one that a finding raises."""

import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from chopstick.engine.knowledge import load, model
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.answers import entry
from chopstick.engine.reasoning.log import Complaint, HoldAnswered, LogEntry, Opened, RepairDone
from chopstick.engine.reasoning.session import Session, Standing

AT = datetime(2026, 3, 1, 9, 0)

AREA = """\
about: Crackle, hot tubes and a missing earth.
symptoms:
  knob-crackle: {name: Crackle when a knob turns, says: [scratchy volume, crackles when I turn it], ask: Does it crackle?}
  tubes-run-hot: {name: Power tubes run hot, says: [tubes glow, too hot], ask: Do they run hot?}
findings:
  dc-on-pot: {text: There is DC on the pot, otherwise: never}
  plates-dark: {text: No plate glows, otherwise: usually, against: [bias-lost]}
  idle-over-rating: {text: The tubes idle above their rating, otherwise: never}
  bias-lost: {text: The bias is lost, otherwise: never}
  no-earth: {text: The plug has no protective earth, otherwise: never}
checks:
  look-at-plug:
    {name: Look at the mains plug, stage: look, minutes: 1, do: Look., normal: Three pins., safety: true,
     ask: Is there an earth pin?, answers: {"yes": {}, "no": {findings: [no-earth]}}}
  pot-ohms:
    {name: Sweep the pot with the ohmmeter, stage: cold, minutes: 4, do: Sweep., normal: Smooth.,
     cautions: [unplugged, discharge], ask: Is there DC?, answers: {"yes": {findings: [dc-on-pot]}, "no": {}}}
  pot-dc:
    name: Measure DC on the pot
    stage: live
    minutes: 3
    do: Red on the hot lug.
    normal: Under 5 mV.
    cautions: [live]
    readings: {pot: {ask: DC on the pot, unit: mV, plausible: [-500, 20000]}}
    bands: [{above: 50, findings: [dc-on-pot], text: DC on the pot}]
  look-at-plates:
    {name: Look at the plates in a dark room, stage: live, minutes: 2, do: Look., normal: No glow., cautions: [live],
     ask: Does a plate glow?, answers: {"yes": {}, "no": {findings: [plates-dark]}}}
  turn-it:
    {name: Turn the knob and listen, stage: play, minutes: 1, do: Turn., normal: Silence., cautions: [loud],
     ask: Does it crackle?, answers: {"yes": {findings: [knob-crackle]}, "no": {}}}
  idle:
    name: Idle dissipation
    stage: live
    minutes: 6
    do: Clip on.
    normal: 50 to 70 percent.
    cautions: [live]
    readings:
      plate: {ask: Plate volts, unit: V, point: out_a.plate, plausible: [100, 700]}
      cathode: {ask: Cathode current, unit: mA, point: out_a.cathode, plausible: [1, 150]}
    figures:
      dissipation:
        compute: bias.plate_dissipation_percent
        given: {plate_V: plate, cathode_mA: cathode, screen_mA: 0, rating_W: tube.plate_W}
    bands: [{of: dissipation, above: 100, findings: [idle-over-rating], text: over the rating}]
causes:
  track-dirty: {name: Dirty track, part: pot, fault: dirty, commonness: everyday, group: pot, shows: {knob-crackle: almost always},
    repairs: [clean-pot]}
  track-worn: {name: Worn track, part: pot, fault: worn, commonness: occasional, group: pot, shows: {knob-crackle: usually},
    repairs: [change-pot]}
  capacitor-leaky: {name: Leaky coupling capacitor, part: capacitor, fault: leaky, commonness: common,
    shows: {knob-crackle: usually, dc-on-pot: almost always}, repairs: [change-capacitor]}
  bias-off: {name: Bias lost, part: bias supply, fault: open, commonness: occasional, hazard: damage,
    shows: {tubes-run-hot: almost always, idle-over-rating: almost always, bias-lost: almost always}, repairs: [mend-bias]}
  earth-missing: {name: Earth pin missing, part: plug, fault: missing, commonness: uncommon, hazard: shock,
    shows: {no-earth: almost always, knob-crackle: hardly ever}, repairs: [fit-cord]}
repairs:
  clean-pot: {name: Clean the pot, steps: [Clean.], minutes: 5, skill: junior, keeps: the pot, cautions: [unplugged],
    proof: {check: turn-it, gone: knob-crackle}}
  change-pot: {name: Change the pot, steps: [Change.], minutes: 20, skill: technician, keeps: the taper, cautions: [unplugged],
    proof: {check: turn-it, gone: knob-crackle}}
  change-capacitor: {name: Change the capacitor, steps: [Change.], minutes: 15, skill: technician, keeps: the value,
    cautions: [unplugged, discharge], proof: {check: pot-dc, gone: dc-on-pot}}
  mend-bias: {name: Mend the bias supply, steps: [Mend.], minutes: 40, skill: technician, keeps: the bias point,
    cautions: [unplugged, discharge], proof: {check: idle, gone: idle-over-rating}}
  fit-cord: {name: Fit a three-wire cord, steps: [Fit.], minutes: 30, skill: senior, keeps: the looks, cautions: [mains],
    proof: {check: look-at-plug, gone: no-earth}}
holds:
  discharged: {text: The capacitors hold a lethal charge., ask: Unplugged and measured below 50 V?, blocks: cold, standing: true}
  ready-for-power: {text: Load on and limiter in., ask: Is it ready for power?, blocks: first power, standing: true}
  earth-first: {text: No protective earth., ask: Has an earth been fitted and measured?, blocks: first power}
rules:
  no-earth-holds: {when: {finding: no-earth}, then: [{hold: earth-first}], because: a fault would put the line on the chassis}
  far-over-means-bias: {when: {value: idle/dissipation, above: 150}, then: [{conclude: bias-lost}],
    because: nothing but a lost bias takes the idle so far}
  lost-bias-is-urgent: {when: {all: [{finding: bias-lost}, {not: {finding: no-earth}}]},
    then: [{advice: Switch off now.}, {raise: bias-off, by: strongly}], because: red plates ruin tubes in minutes}
"""


@pytest.fixture(scope="session")
def base(tmp_path_factory: pytest.TempPathFactory) -> KnowledgeBase:
    root: Path = tmp_path_factory.mktemp("kb")
    shipped = load.shipped()
    (root / "areas" / "small").mkdir(parents=True)
    for name in ("common.yaml", "sources.yaml"):
        shutil.copy(shipped / name, root / name)
    shutil.copytree(shipped / "reference", root / "reference")
    (root / "areas" / "small" / "area.yaml").write_text("title: A small bench\nabout: Four causes.\n")
    (root / "areas" / "small" / "bench.yaml").write_text(AREA)
    return load.load(root)


@pytest.fixture(scope="session")
def session(base: KnowledgeBase) -> Session:
    return Session(base)


@pytest.fixture
def job(base: KnowledgeBase) -> Callable[..., list[LogEntry]]:
    """A log in short: complaints by symptom, then `check=typed`, `hold:id=True`, `repair:id=cause` in order."""

    def write(*symptoms: str, amp: dict[str, object] | None = None, then: list[tuple[str, object]] = []) -> list[LogEntry]:  # noqa: B006
        log: list[LogEntry] = [Opened(at=AT, title="job", fingerprint=base.fingerprint, amp=amp or {})]
        log += [Complaint(at=AT, says=f"it does {symptom}", symptom=symptom) for symptom in symptoms]
        for what, value in then:
            kind, _, id_ = what.rpartition(":")
            if kind == "hold":
                log.append(HoldAnswered(at=AT, hold=id_, cleared=bool(value)))
            elif kind == "repair":
                log.append(RepairDone(at=AT, repair=id_, cause=str(value)))
            else:
                log.append(entry(base.checks[id_], value, AT, believed=True))
        return log

    return write


def with_rule(base: KnowledgeBase, when: object, *then: dict[str, object]) -> KnowledgeBase:
    """The small bench with one rule more."""
    area = next(iter(base.areas.values()))
    rule = model.Rule.model_validate(
        {"id": "ours", "when": when, "then": list(then) or [{"advice": "Look."}], "because": "we have seen it"}
    )
    changed = area.model_copy(update={"rules": {**area.rules, "ours": rule}})
    return replace(base, areas={area.area: changed})


def read(base: KnowledgeBase, log: list[LogEntry]) -> Standing:
    return Session(base).read(log)
