"""No text of a job, of the knowledge base or of a person becomes markup, structure, a formula or an escape."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from typing import Any

import html5lib
import pytest
from chopstick.cli.papers import write
from chopstick.cli.papers.harmless import cell, markdown, plain
from chopstick.cli.papers.models import Record
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from ..amount import amount
from .samples import PAPERS, retold

TAGS = {
    "html", "head", "meta", "title", "style", "body", "header", "main", "section", "aside", "figure", "h1", "h2", "h3", "p",
    "span", "strong", "ul", "li", "dl", "div", "dt", "dd", "table", "thead", "tbody", "tr", "th", "td",
    "svg", "rect", "text", "path", "polyline", "circle",
}  # fmt: skip
ATTRIBUTES = {
    "lang", "charset", "http-equiv", "content", "name", "class", "data-label",
    "{http://www.w3.org/2000/xmlns/}xmlns", "viewBox", "role", "font-family", "font-size", "fill", "stroke", "x", "y", "width", "height", "d", "points", "cx", "cy", "r",
    "text-anchor", "stroke-dasharray",
}  # fmt: skip
HOSTILE = [
    "<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "</style><script>x</script>", "\"><svg onload=x>",
    "--><!--", "{{ 7*7 }}{% raw %}", "javascript:alert(1)", "&lt;b&gt;", "]]>", "' onmouseover='x",
    "# heading", "- item", "1. item", "2) item", "> quote", "```", "~~~", "---", "***", "===", "| a | b |", "\\|x",
    "[a](javascript:x)", "![a](http://x/y.png)", "<http://x.example>", "https://x.example/a_b_c", "*a* _b_ **c** __d__",
    "`code`", "    indented", "line\nbreak\n\n# new", "a  \nb", "$x^2$", "[^1]: note", "[x]: http://y", "~~gone~~", "\\", "a\\",
    "=1+1", "+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "=cmd|' /C calc'!A0", "%0A=1", ";=1",
    "\x1b[31mred\x1b[0m", "\x1b]0;title\x07", "\x9b2J", "\u202egnp.exe", "\u200b\u2066x\u2069", "\x00", "a\x07b", "Ω µ é 日本",
]  # fmt: skip
TEXTS = st.one_of(
    st.sampled_from(HOSTILE),
    st.text(max_size=40),
    st.lists(st.sampled_from([*"<>&\"'`*_[]()#+-=|~\\!:./@{}%$^ \n\tab1", "<b>", "](", "```", "www.", "\x1b["]), max_size=12).map("".join),
)
READER = MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"])


def structure(text: str) -> list[str]:
    """The structure a Markdown reader sees, without the texts."""
    seen = []
    for token in READER.parse(text):
        seen.append(token.type)
        seen += [child.type for child in token.children or () if child.type not in ("text", "text_special")]
    return seen


def elements(html: str) -> list[tuple[str, tuple[str, ...]]]:
    """Every element with the names of its attributes, by a parser that accepts no error."""
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(html)
    return [
        (re.sub(r"\{.*\}", "", one.tag), tuple(sorted(map(str, one.attrib)))) for one in tree.iter() if isinstance(one.tag, str)
    ]


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: type(paper).__name__)
@given(text=TEXTS)
@settings(max_examples=amount(20, 400))
def test_html_holds_no_element_but_its_own(paper: Any, text: str) -> None:
    assume(plain(text))
    poisoned = write.text(retold(paper, lambda _: text), "html")
    found = elements(poisoned)
    assert found == elements(write.text(retold(paper, lambda _: "word"), "html"))
    assert {tag for tag, _ in found} <= TAGS
    assert {name for _, names in found for name in names} <= ATTRIBUTES


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: type(paper).__name__)
@given(text=TEXTS)
@settings(max_examples=amount(30, 1000))
def test_markdown_keeps_its_structure(paper: Any, text: str) -> None:
    assume(plain(text))
    poisoned = write.text(retold(paper, lambda _: text), "md")
    assert structure(poisoned) == structure(write.text(retold(paper, lambda _: "word"), "md"))


@given(text=TEXTS)
@settings(max_examples=amount(150, 2000))
def test_markdown_shows_the_text_itself(text: str) -> None:
    shown = READER.parse(markdown(text))
    assert "".join(child.content for token in shown for child in token.children or ()) == plain(text)


@given(text=TEXTS)
@settings(max_examples=amount(20, 400))
def test_nothing_printed_steers_a_terminal(text: str) -> None:
    for paper in PAPERS:
        printed = write.text(retold(paper, lambda _: text), "md")
        assert not [c for c in printed if c != "\n" and unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co") and c not in "\u200c\u200d"]


@given(text=TEXTS)
@example("=HYPERLINK(\"http://x\")")
@example("\t=1+1")
@settings(max_examples=amount(150, 2000))
def test_a_spreadsheet_takes_no_text_for_a_formula(text: str) -> None:
    record = next(paper for paper in PAPERS if isinstance(paper, Record))
    rows = list(csv.reader(io.StringIO(write.comma_separated(retold(record, lambda _: text)))))
    assert len(rows) == 2
    assert rows[1][4] == "-38.5"  # the number stays one
    assert not [word for place, word in enumerate(rows[1]) if place != 4 and word.startswith(("=", "+", "-", "@", "\t", "\r"))]


def test_a_cell_with_a_number_stays_a_number() -> None:
    assert cell(-38) == -38
    assert cell("-38 V") == "'-38 V"


def test_a_decimal_number_needs_no_backslash() -> None:
    assert markdown("296.1 V") == "296.1 V"
    assert markdown("296. V") == "296\\. V"


def test_bare_addresses_make_no_links() -> None:
    assert markdown("see https://x.example or www.x.example") == "see https\\://x.example or www\\.x.example"
