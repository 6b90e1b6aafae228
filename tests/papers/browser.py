"""Debian's headless Chromium, as a customer's browser and printer."""

from __future__ import annotations

import html
import re
import shutil
import subprocess
from pathlib import Path

INSTALL = "chromium is not installed; on Debian: apt-get install chromium"


def _run(*words: str) -> str:
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    assert program, INSTALL
    return subprocess.run(
        [program, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run", *words],
        capture_output=True, text=True, timeout=120, check=True,
    ).stdout  # fmt: skip


def framed(paper: str, width: int, height: int, folder: Path) -> Path:
    """A page with the paper in a frame of that width (a window is never narrower than 500 pixels), and its measures
    in the page's title once it has loaded."""
    page = folder / f"framed-{width}.html"
    page.write_text(
        f'<!DOCTYPE html><meta charset="utf-8"><body style="margin:0"><iframe id="f" style="border:0" width="{width}" height="{height}"'
        f' srcdoc="{html.escape(paper)}" onload="const d=f.contentDocument.documentElement;'
        'document.title=[f.contentWindow.innerWidth,d.scrollWidth,d.scrollHeight].join(\' \')"></iframe>',
        encoding="utf-8",
    )
    return page


def measured(paper: str, width: int, folder: Path) -> tuple[int, int, int]:
    """Width of the window, and width and height of what is in it, in CSS pixels."""
    seen = _run("--dump-dom", f"file://{framed(paper, width, 900, folder)}")
    found = re.search(r"<title>(\d+) (\d+) (\d+)</title>", seen)
    assert found, seen[:300]
    return int(found[1]), int(found[2]), int(found[3])


def pictured(paper: str, width: int, height: int, folder: Path) -> Path:
    """A screenshot of the paper in a frame of that size."""
    picture = folder / f"{width}.png"
    _run(f"--window-size={max(width, 500)},{height}", f"--screenshot={picture}", f"file://{framed(paper, width, height, folder)}")
    return picture


def printed(paper: str, folder: Path) -> Path:
    """The paper as the browser prints it."""
    page, file = folder / "printed.html", folder / "printed.pdf"
    page.write_text(paper, encoding="utf-8")
    _run("--no-pdf-header-footer", f"--print-to-pdf={file}", f"file://{page}")
    return file
