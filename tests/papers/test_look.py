"""How the papers look in a browser and on a printer: nothing runs over the edge, in black and white, on few pages."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from chopstick.cli.papers import write
from PIL import Image
from pypdf import PdfReader

from ..amount import amount
from .browser import measured, pictured, printed
from .samples import PAPERS, retold

# How many pages each paper of the sample job takes, on A4 and on Letter, which is 18 mm shorter.
PAGES = {
    "intake": (3, 3), "check-over": (2, 3), "checklist": (2, 2), "estimate": (2, 2), "work-order": (2, 2), "hand-back": (1, 1),
    "record": (3, 3),
}  # fmt: skip
SIZE_PT = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0)}  # ISO 216 A4 is 210 x 297 mm; Letter 8.5 x 11 in (ANSI Y14.1)
PRINTS = [(kind, page) for number, kind in enumerate(PAGES) for page in ("A4", "Letter")[:: (1, -1)[number % 2]]]
PHONE, SHEET = 360, 794  # CSS pixels: a small phone; the width of A4 at 96 to the inch


@pytest.mark.parametrize("width", [PHONE, SHEET])
def test_nothing_runs_over_the_edge(papers: dict[str, Any], width: int, tmp_path: Path) -> None:
    seen = measured([write.text(paper, "html") for paper in papers.values()], width, tmp_path)
    assert len(seen) == len(papers)
    for kind, one in zip(papers, seen, strict=True):
        assert one.window == width
        assert one.width <= width, kind
        assert one.height > 300, kind


def test_a_long_word_is_broken_not_cut(tmp_path: Path) -> None:
    papers = [write.text(retold(paper, lambda _: "W" * 300), "html") for paper in PAPERS]
    for paper, one in zip(PAPERS, measured(papers, PHONE, tmp_path), strict=True):
        assert one.width <= PHONE, type(paper).__name__


@pytest.mark.long
@pytest.mark.parametrize(("kind", "page"), PRINTS[:: amount(2, 1)])
def test_it_prints_on_as_many_pages_as_expected(papers: dict[str, Any], kind: str, page: Any, tmp_path: Path) -> None:
    read = PdfReader(printed(write.text(papers[kind], "html", page), tmp_path))
    assert len(read.pages) == PAGES[kind][page == "Letter"]
    box = read.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(SIZE_PT[page], abs=1.5)


def test_they_are_black_and_white(papers: dict[str, Any], tmp_path: Path) -> None:
    """Grey throughout, and dark ink on a light ground: they survive any copier."""
    height = 1100
    with Image.open(pictured([write.text(paper, "html") for paper in papers.values()], SHEET, height, tmp_path)) as picture:
        colour = picture.convert("RGB")
    assert all(high - low <= 2 for low, high in _spread(colour))
    for number, kind in enumerate(papers):
        grey = colour.crop((0, number * height, SHEET, (number + 1) * height)).convert("L").histogram()
        ink, ground, total = sum(grey[:80]), sum(grey[225:]), sum(grey)
        assert 0.005 < ink / total < 0.3, kind
        assert ground / total > 0.65, kind


def _spread(picture: Image.Image) -> list[tuple[int, int]]:
    """The lowest and highest channel of each colour in a picture."""
    colours = picture.getcolors(maxcolors=1 << 24) or []
    return [(min(colour), max(colour)) for _, colour in colours if isinstance(colour, tuple)]


def test_every_grey_of_the_house_style_reads_well() -> None:
    """WCAG 2.1 (W3C), success criterion 1.4.6: at least 7 to 1 between text and ground."""
    style = write._html().get_template("house.css.j2").render(page="A4", screen=True)
    greys = {f"#{g[1:] * 2}" if len(g) == 4 else g for g in re.findall(r"(?<!background: )(?<=color: )(#[0-9a-f]+)", style)}
    grounds = {f"#{g[1:] * 2}" if len(g) == 4 else g for g in re.findall(r"background: (#[0-9a-f]+)", style)}
    assert greys
    assert grounds
    for ink in greys:
        for ground in grounds:
            light, dark = sorted((_luminance(ground), _luminance(ink)), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 7, (ink, ground)


def _luminance(colour: str) -> float:
    """Relative luminance of a colour, as WCAG 2.1 defines it."""
    channels = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
