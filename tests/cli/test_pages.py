"""Every page on every size of terminal: the caution and the question together, nothing cut, nothing too wide."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from chopstick.cli.screen.page import Page, headline
from chopstick.cli.screen.terminal_pages import layout
from chopstick.cli.sitting import steering_words, step_page
from chopstick.engine.knowledge.model import POWERED
from chopstick.engine.reasoning.holds import HoldState
from chopstick.engine.reasoning.log import Complaint, Opened
from chopstick.engine.reasoning.session import Session, Standing
from chopstick.engine.reasoning.set_up import prepared_first
from chopstick.engine.reasoning.steps import MOST_CLIPS, Step
from chopstick.engine.reports.repairs import repair_of

from ..amount import amount
from ..shipped import shipped_knowledge
from .terminal import Terminal

SIZES = ((79, 24), (100, 40), (39, 24))  # columns used on terminals of 80, 120 and 40: the last one stays free
AT = datetime(2026, 1, 1)


@pytest.fixture(scope="module")
def now() -> Standing:
    base = shipped_knowledge()
    said = {"power-tubes-run-hot": "the big tubes get hot", "knob-crackle": "the knob is scratchy",
            "rattle-on-notes": "it rattles along", "hum-constant": "it hums all the time"}  # fmt: skip
    opened = Opened(at=AT, title="Small combo", fingerprint=base.fingerprint, amp={"power-tube": "6V6GT"})
    return Session(base, "junior").read([opened, *(Complaint(at=AT, says=t, symptom=s) for s, t in said.items())])


@pytest.fixture(scope="module")
def pages(now: Standing) -> list[Page]:
    """A page of every seventh check for a junior (of some for a senior too), of every move and hold, and of every fifteenth cause's
    repair; in the long run, of all."""
    base, above = now.base, step_page.strip(now, [], 12)
    found = []
    for number, check in enumerate(list(base.checks.values())[:: amount(7, 1)]):
        step = Step("check", check.id, why="expected to save 22 bench minutes for 8 spent")
        longest = max((reading.ask for reading in check.readings.values()), key=len, default="")
        asked = f"{check.ask} [{', '.join(check.answers)}]" if check.answers else f"Reading 1 of 6. {longest} (-10 to 800 V):"
        for level in ("junior", "senior") if number % 5 == 0 else ("junior",):
            found.append(step_page.check(now, step, above, level).asking(asked, tuple(check.answers)))
    moves = [Step("move", id_, why="for: plates") for id_ in base.moves]
    found += [step_page.move(now, step, above) for step in moves]
    prepared = tuple(id_ for id_, check in base.checks.items() if prepared_first(check))[:MOST_CLIPS]
    found += [step_page.move(now, replace(step, prepared=prepared), above) for step in moves if base.moves[step.id].blocks in POWERED]
    held = replace(now, holds=tuple(HoldState.of(hold, None) for hold in base.holds.values()))
    why = "stands before the plates"
    found += [step_page.hold(held, Step("hold", id_, why=why), above, "junior") for id_ in base.holds if id_ not in base.moves]
    for kind in ("danger", "untold"):
        of_kind = replace(now, holds=tuple(replace(hold, kind=kind) for hold in held.holds))
        found += [step_page.hold(of_kind, Step("held", hold.hold, why=why), above, "senior") for hold in of_kind.holds[:5]]
    for cause in list(base.causes.values())[:: amount(15, 1)]:
        if cause.id in now.ranking.probability:
            repair = repair_of(now, cause.repairs[0], cause.id, "proposed")
            found.append(step_page.repair(repair, above, "junior"))
    return [Page(**{**vars(page), "keys": steering_words.shown(page.words)}) for page in found]


def parts(page: Page, columns: int, rows: int) -> Iterator[list[str]]:
    lines, count = layout(page, 0, (), None, columns, rows)
    yield lines
    for part in range(1, count):
        yield layout(page, part, (), None, columns, rows)[0]


def plain(lines: list[str]) -> list[str]:
    return [re.sub(r"\x1b\[[0-9;]*m", "", line) for line in lines]


def signs(text: str) -> Counter[str]:
    return Counter("".join(text.split()))


@pytest.mark.long
@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40", "40x24"])
def test_every_page_fits_with_its_cautions_and_its_question_and_is_shown_whole(
    pages: list[Page], size: tuple[int, int]
) -> None:
    columns, rows = size
    for page in pages:
        body: Counter[str] = Counter()
        for lines in parts(page, columns, rows):
            told = plain(lines)
            assert len(told) == rows - 1, page.title  # with the line to type on it fills the screen: no more, no less
            assert max(map(len, told)) <= columns, page.title
            text = "".join("".join(told).split())
            assert "".join(page.question.split()) in text, page.title
            assert "".join(page.title.split()) in text, page.title
            for caution in page.cautions:
                danger = headline(caution)
                assert all(word in text for word in danger.split()), (page.title, danger)
            body += signs(text)
        wanted = signs("".join(b.label + b.text + "".join(map("".join, b.rows)) for b in (*page.first, *page.more)))
        assert not wanted - body, page.title


def test_on_80_by_24_most_cautions_stand_in_full(pages: list[Page]) -> None:
    """A short form is for small screens; what it leaves out is shown before (confirming.py)."""
    whole = 0
    for page in pages:
        text = " ".join(" ".join(plain(next(parts(page, 79, 24)))).split())
        whole += all(" ".join(caution.split()) in text for caution in page.cautions)
    assert whole / len(pages) > 0.8


def test_an_aside_takes_the_bodys_place_and_is_shown_whole(pages: list[Page]) -> None:
    told = [f"line {number} of what was asked for" for number in range(60)]

    def aside(screen: object) -> None:
        for line in told:
            screen.line(line)  # type: ignore[attr-defined]

    page = pages[0]
    lines, count = layout(page, 0, (), aside, 79, 24)
    seen = [line for part in range(count) for line in plain(layout(page, part, (), aside, 79, 24)[0])]
    assert [line for line in seen if line.startswith("line ")] == told
    assert page.question in " ".join(plain(lines))


CORD = "Has it an earth wire? [yes, no]"
LIVE = "Are you set up to work with high voltage present? [yes, no]"


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 24)], ids=["80x24", "120x40", "40x24"])
def test_a_juniors_first_steps_on_every_size(size: tuple[int, int], jobs: Path, opened: int) -> None:
    """The caution is confirmed before the first live check, after a look at what the safety checks found."""
    terminal = Terminal(jobs, "bench", str(opened), size=size, level="junior")
    lines = terminal.shows("CHECK: Look at the mains cord", "CAUTION", "Amp unplugged at the wall", CORD)
    assert lines[0].startswith(f"job {opened} | amp: not known to be unplugged")  # the strip is on top, the line to type on at the bottom
    assert lines[-1].startswith(">")
    terminal.says("yes", "HOLD: stop here first", "Chassis propped", LIVE)
    terminal.says("yes", "BEFORE POWER: the safety checks so far", "Look at the mains cord", "Is each of these still so?")
    terminal.says("no", "Take care of it first", "again CHECK")
    terminal.says("yes", "BEFORE YOU BEGIN", "someone within call", "Have you read this, and is it so?")
    terminal.says("yes", "CHECK: Measure the plates at idle", "Lethal voltage is present.", "Plate to cathode")
    terminal.says("where", "Complaints", "Lethal voltage is present.", "Plate to cathode")
    terminal.says("?", "Lethal voltage is present.", "Plate to cathode")
    terminal.type("stop")
    assert "Everything entered is kept" in terminal.end()
    resumed = Terminal(jobs, "bench", str(opened), size=size, level="junior")
    resumed.shows("it was so in an earlier sitting; is it still so?", LIVE)
    resumed.close()


def test_no_color_writes_no_colour(jobs: Path, opened: int) -> None:
    terminal = Terminal(jobs, "bench", str(opened), NO_COLOR="1")
    terminal.shows(CORD)
    terminal.says("yes", LIVE)
    terminal.type("stop")
    terminal.end()
    assert terminal.codes <= {"", "0", "1", "2"}  # nothing but bold, dim and back


def test_a_dumb_terminal_gets_plain_lines(jobs: Path, opened: int) -> None:
    terminal = Terminal(jobs, "bench", str(opened), TERM="dumb")
    terminal.shows(CORD)
    terminal.type("stop")
    terminal.end()
    assert "\x1b" not in terminal.raw


def test_a_very_small_terminal_gets_lines_too(jobs: Path, opened: int) -> None:
    terminal = Terminal(jobs, "bench", str(opened), size=(40, 10))
    terminal.shows("Has it an earth wire?")
    assert "CHECK: Look at the mains cord" in terminal.scrolled
    terminal.close()


def test_a_screen_reader_gets_sentences_in_reading_order(jobs: Path, opened: int) -> None:
    """No redrawing, no columns, no bars; the caution comes before the instruction, the question last."""
    terminal = Terminal(jobs, "bench", str(opened), "--plain", size=(200, 60))
    terminal.shows(CORD)
    told = terminal.scrolled
    order = ["amp: not known to be unplugged", "CHECK: Look at the mains cord", "caution: Amp unplugged", "normal: Three wires", CORD]
    assert sorted(order, key=told.index) == order
    terminal.says("yes", "Look at the mains cord: yes", LIVE)
    terminal.says("where", "69%, Dirty control track", LIVE)
    terminal.type("stop")
    terminal.end()
    assert not set("\x1b#│─┌└") & set(terminal.raw.replace("\x1b[?2004l", ""))
    assert not re.search(r"\S {3,}\S|->|=>", terminal.raw)  # no columns, no arrows
