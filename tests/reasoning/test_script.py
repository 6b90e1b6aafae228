"""A whole job from a file: what is wrong with the file is told at its place, and the run heeds every hold."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from chopstick.engine.reasoning import script
from chopstick.engine.reasoning.answers import AnswerError
from chopstick.engine.reasoning.log import CANT_TELL, Answer, Complaint, HoldAnswered, Opened, Reading, RepairDone
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reference.errors import KnowledgeError

AT = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
LEAKY = """\
job: Crackle with DC behind it
complaints: [{says: scratchy volume, symptom: knob-crackle}]
holds: {discharged: "yes", ready-for-power: "yes"}
checks: {look-at-plug: "yes", pot-dc: 900 mV}
"""


def file_of(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "job.yaml"
    path.write_text(text)
    return path


def run(tmp_path: Path, session: Session, text: str) -> script.Run:
    return script.run(script.read_answers(file_of(tmp_path, text), session), session, lambda: AT)


def steps(run: script.Run) -> list[tuple[str, str]]:
    return [(one.step.kind, one.step.id) for one in run.happened]


def test_a_job_runs_to_the_repair_that_is_left_to_be_done(tmp_path: Path, session: Session) -> None:
    done = run(tmp_path, session, LEAKY)
    assert steps(done) == [
        ("check", "look-at-plug"), ("hold", "ready-for-power"), ("check", "pot-dc"), ("hold", "discharged"),
        ("repair", "change-capacitor"),
    ]  # fmt: skip
    assert [type(entry) for entry in done.log] == [Opened, Complaint, Answer, HoldAnswered, Reading, HoldAnswered]
    assert (done.happened[-1].entries, done.happened[-1].remark) == ((), "left to be done")
    assert done.standing.next.kind == "repair"
    assert {entry.at for entry in done.log} == {AT}


def test_a_repair_that_the_file_has_is_done_and_changes_what_is_shown(tmp_path: Path, session: Session) -> None:
    done = run(tmp_path, session, LEAKY + 'repairs: {change-capacitor: {pot-dc: 2 mV, again-knob-crackle: "no"}}\n')
    assert steps(done)[4:] == [
        ("repair", "change-capacitor"), ("hold", "ready-for-power"), ("proof", "pot-dc"), ("proof", "again-knob-crackle"),
    ]  # fmt: skip
    assert [(entry.repair, entry.cause) for entry in done.log if isinstance(entry, RepairDone)] == [
        ("change-capacitor", "capacitor-leaky")
    ]
    assert done.standing.complaints[0].verdict == "proven"
    assert done.standing.next.kind == "done"


@pytest.mark.parametrize(("said", "cleared"), [('"yes"', True), ("true", True), ("Yes", True), ('"no"', False), ("maybe", False)])
def test_only_yes_clears_a_hold(tmp_path: Path, session: Session, said: str, cleared: bool) -> None:
    done = run(tmp_path, session, LEAKY.replace('ready-for-power: "yes"', f"ready-for-power: {said}"))
    answered = next(entry for entry in done.log if isinstance(entry, HoldAnswered))
    assert (answered.hold, answered.cleared) == ("ready-for-power", cleared)


def test_a_hold_the_file_does_not_name_is_not_cleared(tmp_path: Path, session: Session) -> None:
    done = run(tmp_path, session, "job: A\ncomplaints: [{says: x, symptom: knob-crackle}]\nchecks: {look-at-plug: 'yes'}\n")
    assert done.standing.next.kind == "held"
    assert steps(done) == [("check", "look-at-plug"), ("hold", "ready-for-power"), ("hold", "discharged")]


def test_what_the_file_lacks_can_not_be_told_and_what_is_hard_to_believe_is_not_believed(
    tmp_path: Path, session: Session
) -> None:
    done = run(tmp_path, session, LEAKY.replace("pot-dc: 900 mV", "pot-dc: 90 V"))
    dc = next(one for one in done.happened if one.step.id == "pot-dc")
    ohms = next(one for one in done.happened if one.step.id == "pot-ohms")
    assert ohms.entries == (Answer(at=AT, check="pot-ohms", answer=CANT_TELL),)
    assert dc.entries == (Answer(at=AT, check="pot-dc", answer=CANT_TELL),)
    assert dc.remark.startswith("questioned, and not believed without a second look: DC on the pot: 90 V is hard")


@pytest.mark.parametrize(
    ("old", "new", "line", "where", "message", "hint"),
    [
        ("pot-dc:", "pot-cd:", 4, "checks.pot-cd", "there is no check 'pot-cd'.", "Did you mean 'pot-dc'?"),
        ("discharged:", "discharge:", 3, "holds.discharge", "there is no hold 'discharge'.", "Did you mean 'discharged'?"),
        ("symptom: knob-crackle", "symptom: nob-crackle", 2, "complaints.0.symptom", "there is no symptom 'nob-crackle'.",
         "Did you mean 'knob-crackle'?"),
        ("job:", "truth: [capacitor-leak]\njob:", 1, "truth.0", "there is no cause 'capacitor-leak'.",
         "Did you mean 'capacitor-leaky'?"),
        ("job:", "amp: {rectifire: x}\njob:", 1, "amp.rectifire", "there is no amp fact 'rectifire'.",
         "Did you mean 'rectifier'?"),
        ("job:", "repairs: {clean-pots: {}}\njob:", 1, "repairs.clean-pots", "there is no repair 'clean-pots'.",
         "Did you mean 'clean-pot'?"),
        ("900 mV", "4k7", 4, "checks.pot-dc", "volt", ""),
        ("job:", "repairs: {clean-pot: {turn-it: perhaps}}\njob:", 1, "repairs.clean-pot.turn-it", "not an answer", ""),
        ("job:", "circuit: no-such\njob:", 1, "circuit", "no-such", ""),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_at_its_place(
    tmp_path: Path, session: Session, old: str, new: str, line: int, where: str, message: str, hint: str
) -> None:
    with pytest.raises(KnowledgeError) as wrong:
        script.read_answers(file_of(tmp_path, LEAKY.replace(old, new, 1)), session)
    (problem,) = wrong.value.problems
    assert (problem.where.line, problem.entry) == (line, where)
    assert message in problem.message
    assert problem.hint == hint


def test_words_alone_lead_to_the_symptom_or_ask_to_have_it_named(tmp_path: Path, session: Session) -> None:
    done = run(tmp_path, session, LEAKY.replace(", symptom: knob-crackle", ""))
    assert done.log[1] == Complaint(at=AT, says="scratchy volume", symptom="knob-crackle")
    with pytest.raises(AnswerError, match="no known symptom matches the words 'xylophone'"):
        run(tmp_path, session, LEAKY.replace("scratchy volume, symptom: knob-crackle", "xylophone"))


def test_a_proof_that_tells_nothing_is_asked_once_and_the_job_ends(tmp_path: Path, session: Session) -> None:
    """The tube is not told, so that the share of its rating can't be worked out; then only one reading of two."""
    text = """\
job: Hot tubes
amp: {power-tube: 6V6GT}
complaints: [{says: too hot, symptom: tubes-run-hot}]
holds: {discharged: "yes", ready-for-power: "yes"}
checks: {look-at-plug: "yes", look-at-plates: "yes", idle: {plate: 398 V, cathode: 60 mA}}
repairs: {mend-bias: {idle: {plate: 398 V}}}
"""
    done = run(tmp_path, session, text)
    assert steps(done).count(("proof", "idle")) == 1
    assert done.standing.next.kind == "done"
    assert done.standing.facts.repairs[0].proven is None
    waits = done.standing.plan.unproven("bias-off")
    assert waits is not None
    assert waits.settle == "measure that too: Cathode current"


def test_a_job_without_an_end_in_sight_ends_with_words(
    tmp_path: Path, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(script, "MOST_STEPS", 2)
    done = run(tmp_path, session, LEAKY)
    last = done.happened[-1]
    assert (last.entries, last.remark, last.step) == ((), script.ENDLESS, done.standing.next)
    assert len(done.log) == 4
