"""Whatever is typed at the bench: no crash, no lost entry, no live work before its holds, always an end."""

from __future__ import annotations

import io
import sys

import pytest
from chopstick.cli import desk
from chopstick.cli.screen.plain_pages import Lines
from chopstick.cli.screen.prompts import Prompt
from chopstick.cli.screen.screen import Screen
from chopstick.cli.sitting.bench_sitting import Sitting
from chopstick.cli.sitting.steering_words import KEYS
from chopstick.engine.jobs.store.store import Job, open_store
from chopstick.engine.knowledge.load import load
from chopstick.engine.knowledge.model import POWERED
from chopstick.engine.reasoning.log import CANT_TELL, NOT_THIS_AMP, Answer, Complaint, HoldAnswered, Opened, Reading
from chopstick.engine.reasoning.session import Session
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from .conftest import SMALL

LINES = st.one_of(
    st.sampled_from([*KEYS, "yes", "no", "y", "smooth", "rough", "done", "later", "?"]),
    st.sampled_from(["2.5", "462.5", "28mA", "4k7", "1e9", "9", "again plates", "again nothing", "back", "again", "plate 288 cathode 28", "turn-and-listen=yes"]),
    st.sampled_from(["note a\x1b[31mred", "repair 1", "repair clean-control"]),
    st.text(max_size=30),
)


@pytest.fixture(scope="module")
def session() -> Session:
    return Session(load(SMALL))


@given(typed=st.lists(LINES, max_size=40), level=st.sampled_from(["junior", "senior"]))
@settings(max_examples=amount(25, 800))
def test_anything_may_be_typed(
    typed: list[str],
    level: str,
    session: Session,
    tmp_path_factory: pytest.TempPathFactory,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    opened = Opened(at=desk.now(), title="t", fingerprint=session.base.fingerprint)
    store = open_store(tmp_path_factory.mktemp("jobs"))
    job = store.create(opened, *(Complaint(at=desk.now(), says=s, symptom=s) for s in ("crackle", "runs-hot")))
    lines = "".join(f"{line}\n" for text in typed for line in [" ".join(text.splitlines())])
    shown = io.StringIO()
    monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
    monkeypatch.setattr(sys, "stdout", shown)
    code = Sitting(job, session, Lines(Screen(), Prompt(Screen())), level).run()
    monkeypatch.undo()
    assert code in (0, 3)
    assert "How each complaint ends" in shown.getvalue()
    assert not any(sign in shown.getvalue() for sign in "\x1b\x9b\x07\x08\r")
    assert store.find(1).log == job.log
    assert_holds_come_first(job, session)


def assert_holds_come_first(job: Job, session: Session) -> None:
    """Every check that was really done under power had its hold cleared before."""
    cleared = False
    for entry in job.log:
        if isinstance(entry, HoldAnswered) and entry.hold == "ready-for-live":
            cleared = entry.cleared
        skipped = isinstance(entry, Answer) and entry.answer in (CANT_TELL, NOT_THIS_AMP)
        if isinstance(entry, Answer | Reading) and not skipped and session.base.checks[entry.check].stage in POWERED:
            assert cleared
