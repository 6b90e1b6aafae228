"""The HTML stands alone: valid, no script, nothing fetched, and it says so itself."""

from __future__ import annotations

import base64
import hashlib
import re
from typing import Any

import html5lib
import pytest
from chopstick.cli.papers import write
from jinja2 import UndefinedError

from .samples import PAPERS


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: type(paper).__name__)
def test_it_is_valid_and_fetches_nothing(paper: Any) -> None:
    """html5lib's strict parser follows the WHATWG HTML standard's parsing section and stops at the first error."""
    html = write.text(paper, "html")
    html5lib.HTMLParser(strict=True).parse(html)
    assert not re.search(r"<(script|link|img|iframe|object|embed|form|base|a)\b|url\(|@import|\son\w+=", html)
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", html)


def test_the_policy_lets_in_the_house_style_and_nothing_else() -> None:
    """Content Security Policy Level 3 (W3C): a style is let in by the hash of its text."""
    html = write.text(PAPERS[0], "html")
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)
    style = re.search(r"<style>(.*)</style>", html, re.DOTALL)
    assert policy
    assert style
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    shown = policy[1].replace("&#39;", "'")
    assert shown == f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_the_page_is_the_one_asked_for(page: Any) -> None:
    assert f"size: {page};" in write.text(PAPERS[0], "html", page)


def test_a_field_that_is_not_there_is_an_error_not_a_blank() -> None:
    with pytest.raises(UndefinedError):
        write._html().from_string("{{ paper.no_such_field }}").render(paper=PAPERS[0])


def test_every_paper_carries_its_caution() -> None:
    for paper in PAPERS:
        assert "caution" in write.text(paper, "html")
        assert "CAUTION" in write.text(paper, "md")
