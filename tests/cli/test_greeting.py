"""`chopstick` alone: a choice at a terminal, plain text elsewhere."""

from __future__ import annotations

from pathlib import Path

import pytest
from chopstick.cli.sitting.greeting import CHOICES, chosen
from chopstick.cli.sitting.steering_words import Unclear

from .conftest import Run
from .terminal import Terminal


def test_piped_it_is_plain_text_that_names_the_commands(process: Run) -> None:
    ran = process()
    assert ran.code == 0
    assert all(f"chopstick {word}" in ran.out for word in CHOICES)
    assert "can kill" in ran.out
    assert "\x1b" not in ran.out
    assert all(len(line) <= 80 for line in ran.out.splitlines())


def test_at_a_terminal_it_asks_and_goes_there(jobs: Path) -> None:
    terminal = Terminal(jobs, kb=None)
    terminal.shows("Where do you want to begin?", "can kill", "1 to 4, or a word")
    terminal.says("9", "is none of: demo, practice, intake, bench", "1 to 4, or a word")
    terminal.says("intake", "What should the job be called?")
    terminal.close()


def test_enter_leaves(jobs: Path) -> None:
    terminal = Terminal(jobs, kb=None)
    terminal.shows("1 to 4, or a word")
    terminal.type("")
    terminal.end()
    assert terminal.child.exitstatus == 0


@pytest.mark.parametrize(("typed", "word"), [("1", "demo"), ("p", "practice"), ("inta", "intake"), ("4", "bench")])
def test_a_number_or_the_beginning_of_a_word_will_do(typed: str, word: str) -> None:
    assert chosen(typed) == word


def test_what_is_none_of_them_is_said_back() -> None:
    with pytest.raises(Unclear, match="from 1 to 4"):
        chosen("5")
