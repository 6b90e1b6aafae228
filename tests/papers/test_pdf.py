"""PDF: through WeasyPrint where it is installed, the same bytes each time, and a plain word where it is not."""

from __future__ import annotations

import io
import sys
from itertools import cycle
from typing import Any

import pytest
from chopstick.cli.papers import write
from pypdf import PdfReader

from ..amount import LONG
from .samples import PAPERS, retold
from .test_harmless import HOSTILE


@pytest.mark.parametrize("kind", ["checklist", "hand-back", "record"])
def test_the_same_paper_gives_the_same_bytes(papers: dict[str, Any], kind: str) -> None:
    assert write.pdf(papers[kind]) == write.pdf(papers[kind])


def test_the_words_and_the_page_numbers_are_in_it(papers: dict[str, Any]) -> None:
    pages = PdfReader(io.BytesIO(write.pdf(papers["hand-back"], "Letter"))).pages
    text = pages[0].extract_text()
    assert "Hand-back report" in text
    assert "it crackles when I turn the volume" in " ".join(text.split())
    assert f"1 / {len(pages)}" in text
    assert float(pages[0].mediabox.width) == pytest.approx(612)


def test_without_the_library_it_says_how_to_get_it(papers: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(write.NoPdf, match=r"chopstick\[pdf\]"):
        write.pdf(papers["hand-back"])


@pytest.mark.long
def test_hostile_text_brings_no_link_action_or_file_into_it() -> None:
    """One text after the other in the fields of every paper; in the long run, all of them in every field."""
    texts = cycle([" ".join(HOSTILE)] if LONG else HOSTILE)
    for paper in PAPERS:
        content = write.pdf(retold(paper, lambda _: next(texts)))
        for page in PdfReader(io.BytesIO(content)).pages:
            assert "/Annots" not in page
            assert "/AA" not in page
        assert not [name for name in (b"/JavaScript", b"/JS", b"/Launch", b"/URI", b"/EmbeddedFile", b"/OpenAction") if name in content]


def test_nothing_is_fetched(papers: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="fetches nothing"):
        write._nothing("http://x.example/pixel.png")
