"""How the papers look in a browser and on a printer: nothing runs over the edge, in black and white, on few pages."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from chopstick.cli.papers import write
from PIL import Image
from pypdf import PdfReader

from .browser import measured, pictured, printed

KINDS = ["intake", "check-over", "checklist", "estimate", "work-order", "hand-back", "record"]
PAGES = {"intake": 3, "check-over": 2, "checklist": 2, "estimate": 1, "work-order": 2, "hand-back": 1, "record": 3}
SIZE_PT = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0)}  # ISO 216 A4 is 210 x 297 mm; Letter 8.5 x 11 in (ANSI Y14.1)
PHONE, SHEET = 360, 794  # CSS pixels: a small phone; the width of A4 at 96 to the inch


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("width", [PHONE, SHEET])
def test_nothing_runs_over_the_edge(papers: dict[str, Any], kind: str, width: int, tmp_path: Path) -> None:
    window, content, height = measured(write.text(papers[kind], "html"), width, tmp_path)
    assert window == width
    assert content <= width
    assert height > 300


def test_a_long_word_is_broken_not_cut(papers: dict[str, Any], tmp_path: Path) -> None:
    from .samples import PAPERS, retold

    for paper in PAPERS:
        html = write.text(retold(paper, lambda _: "W" * 300), "html")
        assert measured(html, PHONE, tmp_path)[1] <= PHONE, type(paper).__name__


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_it_prints_on_as_many_pages_as_expected(papers: dict[str, Any], kind: str, page: Any, tmp_path: Path) -> None:
    read = PdfReader(printed(write.text(papers[kind], "html", page), tmp_path))
    assert len(read.pages) == PAGES[kind]
    box = read.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(SIZE_PT[page], abs=1.5)


@pytest.mark.parametrize("kind", KINDS)
def test_it_is_black_and_white(papers: dict[str, Any], kind: str, tmp_path: Path) -> None:
    """Grey throughout, and dark ink on a light ground: it survives any copier."""
    with Image.open(pictured(write.text(papers[kind], "html"), SHEET, 1100, tmp_path)) as picture:
        colour = picture.convert("RGB")
        assert all(high - low <= 2 for low, high in _spread(colour))
        grey = colour.convert("L").histogram()
    ink, ground, total = sum(grey[:80]), sum(grey[225:]), sum(grey)
    assert 0.005 < ink / total < 0.3
    assert ground / total > 0.65


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
