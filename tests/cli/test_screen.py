"""Nothing that is told can steer a terminal or be taken for markup."""

from __future__ import annotations

import io
import shutil
import unicodedata
from pathlib import Path

import pytest
from chopstick.cli.screen.screen import Screen, clean
from hypothesis import given
from hypothesis import strategies as st

from .conftest import SMALL, Run

HOSTILE = (
    "\x1b[31mred\x1b[0m",
    "\x1b]0;a title\x07",
    "\x1b]8;;http://example.org\x1b\\link\x1b]8;;\x1b\\",
    "\x9b31mred",
    "\x1b[2J\x1b[H",
    "back\x08\x08\x08\x08over",
    "\u202eright to left",
    "zero\u200bwidth",
    "bell\x07",
    "\x1bPq#0;2\x1b\\",
    "[bold]not bold[/bold] [link=x]no[/link] :smile:",
    "line\rreturn",
    "\ud800",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_cleaned_text_has_nothing_that_steers(text: str) -> None:
    assert all(unicodedata.category(sign) not in ("Cc", "Cf", "Cs") for sign in clean(text))


@given(st.text())
def test_any_text_comes_out_harmless_and_cleaning_again_changes_nothing(text: str) -> None:
    cleaned = clean(text)
    assert not any(unicodedata.category(sign) in ("Cc", "Cs", "Zl", "Zp") for sign in cleaned)
    assert clean(cleaned) == cleaned


def test_ordinary_text_is_left_alone() -> None:
    said = "4.7 kΩ at 462.5 V, 'it hums', µ, é, 日本, [brackets] {braces} :colon:"
    assert clean(said) == said


def test_sequences_go_whole_and_leave_no_crumbs() -> None:
    assert clean("a\x1b[31;1mb\x1b[0mc") == "abc"
    assert clean("a\x1b]0;title\x07b") == "ab"


def test_markup_is_printed_as_it_is() -> None:
    stream = io.StringIO()
    Screen(stream).line("[bold]x[/bold] :smile: [/]")
    assert stream.getvalue() == "[bold]x[/bold] :smile: [/]\n"


@pytest.mark.parametrize("method", ["line", "heading", "whole"])
@pytest.mark.parametrize("text", HOSTILE)
def test_every_way_of_printing_cleans(method: str, text: str) -> None:
    stream = io.StringIO()
    getattr(Screen(stream), method)(text)
    assert not any(sign in stream.getvalue() for sign in "\x1b\x9b\x07\x08\r\u202e\u200b")


@pytest.mark.parametrize("text", HOSTILE)
def test_tables_and_lists_clean_too(text: str) -> None:
    stream = io.StringIO()
    screen = Screen(stream)
    screen.pairs([(text, text)])
    screen.bullets([text])
    screen.numbered([text])
    screen.table([(text, text, text)], indent=2)
    assert not any(sign in stream.getvalue() for sign in "\x1b\x9b\x07\x08\r\u202e\u200b")


def test_what_the_player_says_can_not_carry_an_escape(process: Run) -> None:
    said = "crackle=\x1b[31mit crackles\x1b]0;owned\x07 [bold]loud[/bold]"
    ran = process("intake", "--kb", str(SMALL), "--complaint", said, "--title", "\x1b[2Jtitle")
    assert ran.code == 0
    assert "\x1b" not in ran.out + ran.err
    assert "it crackles [bold]loud[/bold]" in ran.out
    assert "\x1b" not in process("bench", "1", "--kb", str(SMALL), typed="note \x1b[31mred\nstop\n").out


def test_what_the_knowledge_base_says_can_not_carry_an_escape(process: Run, tmp_path: Path) -> None:
    root = tmp_path / "kb"
    shutil.copytree(SMALL, root)
    area = (root / "areas" / "small" / "small.yaml").read_text()
    name = 'name: "Look \\e[31mred\\e[0m [bold]at[/bold] \\u009b2J cord"'
    hostile = area.replace("name: Look at the mains cord", name)
    assert hostile != area
    (root / "areas" / "small" / "small.yaml").write_text(hostile)
    ran = process("intake", "--kb", str(root), "--complaint", "crackle=it crackles")
    shown = process("bench", "1", "--kb", str(root), typed="stop\n")
    assert "\x1b" not in ran.out + shown.out
    assert "\x9b" not in ran.out + shown.out
    assert "CHECK: Look red [bold]at[/bold] " in shown.out


def test_no_colour_is_written_with_no_color_or_through_a_pipe(process: Run) -> None:
    process("intake", "--kb", str(SMALL), "--complaint", "crackle=it crackles")
    for environment in ({"NO_COLOR": "1", "FORCE_COLOR": "1"}, {}):
        out = process("show", "1", "--kb", str(SMALL), **environment).out
        assert "\x1b[3" not in out
        assert "\x1b[4" not in out


def test_80_columns_are_kept(process: Run) -> None:
    process("intake", "--kb", str(SMALL), "--complaint", "crackle=it crackles")
    for words in (("show", "1"), ("bench", "1"), ("kb", "list"), ("kb", "show", "plates")):
        out = process(*words, "--kb", str(SMALL), typed="why\nwhere\n?\nstop\n").out
        assert max(map(len, out.splitlines())) <= 80, words
        assert not any(line.endswith(" ") for line in out.splitlines() if not line.startswith(">"))
