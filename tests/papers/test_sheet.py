"""A sheet filled in by hand is typed back: by number, in any order, and no typed line is lost."""

from __future__ import annotations

import json
import os
import random
from pathlib import Path
from typing import Any

import pexpect
import pytest
from chopstick.cli.commands import take_sheet
from chopstick.cli.papers.checklist import check_over, checklist
from chopstick.cli.sitting.filled_sheet import Typing, given, numbered, sheet_of
from chopstick.engine.jobs.store.store import Job, open_store
from chopstick.engine.reasoning.answers import AnswerError
from chopstick.engine.reasoning.log import LogEntry, Opened
from chopstick.engine.reasoning.minutes_spent import minutes_spent
from chopstick.engine.reasoning.session import Session
from hypothesis import given as tried
from hypothesis import settings
from hypothesis import strategies as st

from .. import forked
from ..amount import amount

FILLED = {
    "look-at-cord": "ok", "ready-for-live": "yes", "control-dc volts": "2.5 V", "turn-and-listen": "yes",
    "plates plate-volts": "462.5", "plates cathode-current": "28mA",
}  # fmt: skip


@pytest.fixture
def job(begun: list[LogEntry], tmp_path: Path) -> Job:
    first = begun[0]
    assert isinstance(first, Opened)
    return open_store(tmp_path / "jobs").create(first, *begun[1:])


def filled(session: Session, job: Job) -> list[str]:
    """The lines as a person would type them from the sheet."""
    lines = sheet_of(session, job.log, job.number).lines
    return [f"{line.number} {FILLED[f'{line.of} {line.reading}'.strip()]}" for line in lines]


def test_a_whole_sheet_goes_in_as_the_prompts_would_take_it(session: Session, job: Job) -> None:
    typing = Typing(session, job, sheet_of(session, job.log, job.number))
    typing.file(filled(session, job))
    assert not typing.kept.lost
    values = {key: value.value for key, value in session.read(job.log).facts.values.items()}
    assert values["control-dc/volts"] == 2.5
    assert values["plates/share"] == pytest.approx(86.05, abs=0.01)
    assert open_store(job.path.parent).find(job.number).log == job.log


@pytest.fixture(scope="module")
def in_order(session: Session, begun: list[LogEntry], tmp_path_factory: pytest.TempPathFactory) -> list[Any]:
    """The log, but for the times, when the lines are typed in the order of the sheet."""
    first = begun[0]
    assert isinstance(first, Opened)
    job = open_store(tmp_path_factory.mktemp("jobs")).create(first, *begun[1:])
    Typing(session, job, sheet_of(session, job.log, job.number)).file(filled(session, job))
    return [entry.model_dump(exclude={"at"}) for entry in job.log]


@tried(seed=st.integers(0, 10_000))
@settings(max_examples=amount(25, 500))
def test_the_order_of_the_lines_does_not_matter(seed: int, session: Session, begun: list[LogEntry], in_order: list[Any], tmp_path_factory: pytest.TempPathFactory) -> None:
    first = begun[0]
    assert isinstance(first, Opened)
    job = open_store(tmp_path_factory.mktemp("jobs")).create(first, *begun[1:])
    lines = filled(session, job)
    random.Random(seed).shuffle(lines)
    Typing(session, job, sheet_of(session, job.log, job.number)).file(lines)
    assert [entry.model_dump(exclude={"at"}) for entry in job.log] == in_order


def test_what_can_not_be_taken_is_said_and_the_rest_is_kept(session: Session, job: Job) -> None:
    typing = Typing(session, job, sheet_of(session, job.log, job.number))
    typing.file(["1 ok", "99 yes", "no number here", "# a remark", "", "2 perhaps"])
    assert typing.kept.entries == 1
    assert [text for text, _ in typing.kept.lost] == ["99 yes", "no number here", "2 perhaps"]


def test_a_hold_bars_what_comes_after_it(session: Session, job: Job) -> None:
    typing = Typing(session, job, sheet_of(session, job.log, job.number))
    lines = sheet_of(session, job.log, job.number).lines
    live = next(line for line in lines if line.of == "control-dc")
    typing.file(["1 ok", f"{live.number} 2.5"])
    assert typing.kept.barred
    assert typing.kept.lost[0][0] == f"{live.number} 2.5"
    assert "ready-for-live" in typing.kept.lost[0][1]


def test_a_sheet_printed_earlier_keeps_its_numbers(session: Session, job: Job) -> None:
    printed = checklist(session.read(job.log), job.log, job.number)
    Typing(session, job, printed).file(["1 ok"])
    assert sheet_of(session, job.log, job.number).lines != printed.lines
    again = sheet_of(session, job.log, job.number, printed.head.sheet)
    assert again.lines == printed.lines


def test_a_check_over_is_typed_back_too(session: Session, job: Job) -> None:
    printed = check_over(session.read(job.log), job.log, job.number)
    assert sheet_of(session, job.log, job.number, f"sheet {printed.head.sheet}").lines == printed.lines


def test_a_check_over_of_another_length_has_no_code(session: Session, job: Job) -> None:
    assert check_over(session.read(job.log), job.log, job.number, minutes=20).head.sheet == ""


@pytest.mark.parametrize(("code", "said"), [("1-3-0000", "can't be worked out any more"), ("9-3-1a2b", "belongs to job 9"), ("hello", "not a sheet code")])
def test_a_wrong_code_is_refused(session: Session, job: Job, code: str, said: str) -> None:
    with pytest.raises(AnswerError, match=said):
        sheet_of(session, job.log, job.number, code)


def test_readings_of_one_check_typed_line_by_line_cost_its_minutes_once(session: Session, job: Job) -> None:
    typing = Typing(session, job, sheet_of(session, job.log, job.number))
    typing.file(filled(session, job))
    plates = session.base.checks["plates"].minutes
    spent = minutes_spent(session.read(job.log), job.log)
    shorter = [entry for entry in job.log if getattr(entry, "check", "") != "plates"]
    assert spent - minutes_spent(session.read(shorter), shorter) == pytest.approx(plates, abs=4)


@pytest.mark.parametrize(
    ("text", "number", "value"),
    [("7 ok", 7, "ok"), ("12 4k7", 12, "4k7"), ("12: 4k7", 12, "4k7"), ("3. no", 3, "no"), ("5=-38V", 5, "-38V"), ("  8   0.022u ", 8, "0.022u")],
)
def test_a_line_begins_with_its_number(text: str, number: int, value: str) -> None:
    assert numbered(text) == (number, value)


@tried(text=st.text(max_size=30))
def test_any_text_is_a_line_or_none(text: str) -> None:
    one = numbered(text)
    assert one is None or (one.value and 0 <= one.number <= 9999)


def test_ok_is_no_reading(session: Session, job: Job) -> None:
    line = next(line for line in sheet_of(session, job.log, job.number).lines if line.kind == "reading")
    with pytest.raises(AnswerError, match="a reading is wanted"):
        given(line, "ok")


def program(jobs: Path, *words: str) -> list[str]:
    return ["-m", "chopstick.cli.main", *words, "--kb", str(Path(__file__).parents[1] / "cli" / "kb"), "--jobs", str(jobs)]


def test_from_a_pipe_by_its_code_with_json(session: Session, job: Job) -> None:
    code = sheet_of(session, job.log, job.number).head.sheet
    words = program(job.path.parent, "take", "1", "--sheet", "--json")[2:]
    lines = "\n".join(filled(session, job))
    without = forked.command(words, lines.encode())
    assert without.code == 2
    assert b"which sheet" in without.err
    done = forked.command(words, f"sheet {code}\n{lines}\n77 yes\n".encode())
    assert done.code == 2, done.err
    assert b"77 yes" in done.err
    assert {one["name"] for one in json.loads(done.out)["values"]} >= {"volts", "plate-volts", "share"}


def test_at_a_terminal_line_by_line(session: Session, job: Job) -> None:
    """Enter skips, a slip is asked again, an odd reading is questioned, a number jumps; killed in the middle, what was
    typed before is kept."""
    import sys

    lines = {f"{line.of} {line.reading}".strip(): line.number for line in sheet_of(session, job.log, job.number).lines}
    child = pexpect.spawn(sys.executable, program(job.path.parent, "take", "1", "--sheet"), encoding="utf-8", timeout=300,
                          dimensions=(24, 100), env={**__import__("os").environ, "TERM": "xterm", "PROMPT_TOOLKIT_NO_CPR": "1"})  # fmt: skip
    child.expect("Enter for 1-3-")
    child.send("\r")
    child.expect(f"{lines['look-at-cord']}\\. Has it an earth wire")
    child.send("perhaps\r")
    child.expect("is not an answer")
    child.expect("Has it an earth wire")
    child.send("ok\r")
    child.expect(f"{lines['ready-for-live']}\\. ")
    child.send("\r")
    child.send(f"{lines['plates plate-volts']} 45.35\r")
    child.expect("hard to believe")
    child.expect("really say so")
    child.send("yes\r")
    child.expect("Before this comes a hold")
    child.send("yes\r")
    child.expect(f"{lines['plates cathode-current']}\\. ")
    child.kill(9)
    child.wait()
    kept = open_store(job.path.parent).find(1).log[3:]
    assert [entry.kind for entry in kept] == ["answer", "hold", "reading"]


def test_a_file_of_lines_that_is_no_plain_file_or_has_no_end_is_refused(session: Session, job: Job, tmp_path: Path) -> None:
    """A pipe would be waited for, for ever; a device has no end."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "large").write_bytes(b"1 ok\n" * 400_000)
    for file, why in ((tmp_path / "pipe", "not a plain file"), (Path("/dev/zero"), "not a plain file"), (tmp_path / "large", "larger than")):
        with pytest.raises(AnswerError, match=why):
            take_sheet._from_lines(session, job, file)
