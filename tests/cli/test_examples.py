"""The examples of help: every one of them is a command that would be taken, and fits 80 columns."""

from __future__ import annotations

import re
import shlex

import pytest
from chopstick.cli.main import app, settings_first
from chopstick.engine.knowledge import cache
from typer.main import get_command
from typer.testing import CliRunner

OWN = ("demo", "practice", "intake", "bench", "take", "show")


def told(monkeypatch: pytest.MonkeyPatch, *words: str) -> str:
    monkeypatch.setenv("COLUMNS", "80")
    ran = CliRunner().invoke(app, [*words, "--help"])
    assert ran.exit_code == 0
    return ran.stdout


def examples(text: str) -> list[list[str]]:
    """The command lines of a help text, without what is said beside them."""
    joined = re.sub(r" *\\\n +", " ", text)
    found = [line.strip() for line in joined.splitlines() if line.strip().startswith("chopstick ")]
    return [shlex.split(re.split(r" {2,}|(?<=--log) ", line)[0])[1:] for line in found]


def test_every_help_fits_80_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    commands = get_command(app).list_commands(None)  # type: ignore[attr-defined, arg-type]
    assert set(OWN) <= set(commands)
    too_wide = {
        (command, line)
        for command in ("", *commands)
        for line in told(monkeypatch, *filter(None, [command])).splitlines()
        if len(line) > 80
    }
    assert not too_wide


@pytest.mark.parametrize("command", OWN)
def test_every_example_is_a_command_that_would_be_taken(command: str, monkeypatch: pytest.MonkeyPatch) -> None:
    found = examples(told(monkeypatch, command))
    assert len(found) >= 2
    group = get_command(app)
    for words in found:
        front = settings_first(words)
        at = front.index(command)
        group.make_context("chopstick", front[:at]) if front[:at] else None  # type: ignore[unused-ignore]
        own = group.get_command(None, command)  # type: ignore[attr-defined]
        own.make_context(command, front[at + 1 :])  # a UsageError names what is wrong with it


def test_what_the_examples_name_is_in_the_knowledge_base(monkeypatch: pytest.MonkeyPatch) -> None:
    base = cache.load()
    for words in [*examples(told(monkeypatch, "take")), *examples(told(monkeypatch, "intake"))]:
        for word, following in zip(words, [*words[1:], ""], strict=True):
            name, equals, value = following.partition("=")
            if word == "--hold":
                assert name in base.holds
            elif word == "--repair":
                assert name in base.repairs
            elif word == "--amp":
                assert name in base.amp_facts
            elif word == "--complaint" and equals:
                assert name in base.symptoms
            elif not word.startswith("--") and equals and not following.startswith("--"):
                check = base.checks[name.partition(".")[0]]
                assert value in check.answers or check.readings
