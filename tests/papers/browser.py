"""Debian's headless Chromium, as a customer's browser and printer. Papers stand in frames of one page, so that one
start of the browser measures them all."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

INSTALL = "chromium is not installed; on Debian: apt-get install chromium"
# What the page tells in its title once all frames are there: width of the window, and of what is in it, in CSS pixels.
MEASURE = (
    "onload=()=>{document.title=JSON.stringify([...document.querySelectorAll('iframe')].map(f=>"
    "[f.contentWindow.innerWidth,f.contentDocument.documentElement.scrollWidth,f.contentDocument.documentElement.scrollHeight]))}"
)


class Measured(NamedTuple):
    window: int
    width: int
    height: int


def _run(*words: str) -> str:
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    assert program, INSTALL
    return subprocess.run(
        [program, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run", *words],
        capture_output=True, text=True, timeout=300, check=True,
    ).stdout  # fmt: skip


def _framed(papers: Sequence[str], width: int, height: int, folder: Path) -> Path:
    """A page with each paper in a frame of that size; a window of its own would never be narrower than 500 pixels."""
    page = folder / f"framed-{width}.html"
    frames = "".join(
        f'<iframe style="border:0;display:block" width="{width}" height="{height}" srcdoc="{html.escape(one)}"></iframe>'
        for one in papers
    )
    page.write_text(
        f'<!DOCTYPE html><meta charset="utf-8"><body style="margin:0">{frames}<script>{MEASURE}</script>', encoding="utf-8"
    )
    return page


def measured(papers: Sequence[str], width: int, folder: Path) -> list[Measured]:
    """Each paper's measures in a window of that width."""
    seen = _run("--dump-dom", f"file://{_framed(papers, width, 900, folder)}")
    found = re.search(r"<title>(\[.*?\])</title>", seen)
    assert found, seen[:300]
    return [Measured(*one) for one in json.loads(found[1])]


def pictured(papers: Sequence[str], width: int, height: int, folder: Path) -> Path:
    """A screenshot of the papers, one below the other, each cut to that size."""
    picture = folder / f"{width}.png"
    page = _framed(papers, width, height, folder)
    _run(f"--window-size={max(width, 500)},{height * len(papers)}", f"--screenshot={picture}", f"file://{page}")
    return picture


def printed(paper: str, folder: Path) -> Path:
    """The paper as the browser prints it."""
    page, file = folder / "printed.html", folder / "printed.pdf"
    page.write_text(paper, encoding="utf-8")
    _run("--no-pdf-header-footer", f"--print-to-pdf={file}", f"file://{page}")
    return file
