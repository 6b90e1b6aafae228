"""A paper as Markdown, as HTML that stands alone, or as PDF. Templates only lay out; every text is made harmless."""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import re
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

from ...engine.bench.notation import show
from ...engine.jobs.shop.money import money
from ...engine.late import late
from ...engine.reasoning.wording import percent
from ..screen.views import HAZARD
from .harmless import cell, markdown, plain
from .heads import named
from .models import Record

if TYPE_CHECKING:
    from jinja2 import Environment

    from ...engine.bench.figure import Curve

with late():
    import jinja2
    import markupsafe

    from ..screen import plot

Format = Literal["md", "html", "pdf", "csv"]
Page = Literal["A4", "Letter"]
INSTALL = "pip install 'chopstick[pdf]'"


class NoPdf(Exception):
    """The library that makes PDF is not there; the message says how to install it."""


def text(paper: object, form: Literal["md", "html"], page: Page = "A4") -> str:
    """A paper as Markdown or as HTML for a page size."""
    if form == "md":
        drawn = _markdown().get_template(f"{_name(paper)}.md.j2").render(paper=paper, head=paper.head)  # type: ignore[attr-defined]
        return re.sub(r"\n{3,}", "\n\n", drawn).strip() + "\n"
    return _page(paper, page, screen=True)


def _page(paper: object, page: Page, screen: bool) -> str:
    """screen: with the part of the style that only a screen heeds."""
    environment = _html()
    style = environment.get_template("house.css.j2").render(page=page, screen=screen)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return environment.get_template(f"{_name(paper)}.html.j2").render(
        paper=paper,
        head=paper.head,  # type: ignore[attr-defined]
        style=markupsafe.Markup(style),  # of our own making: nothing but the page size goes into it
        policy=f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'",
    )


def pdf(paper: object, page: Page = "A4") -> bytes:
    """A paper as PDF, the same bytes for the same paper. Raises NoPdf."""
    try:
        import weasyprint  # noqa: PLC0415 - it may not be there
    except (ImportError, OSError) as error:  # OSError: Pango is not on the system
        raise NoPdf(
            f"PDF needs WeasyPrint, which is not there ({error}). Install it: {INSTALL} (on Debian with "
            "apt-get install libpango-1.0-0 libpangoft2-1.0-0), or print the HTML from a browser."
        ) from error
    made = weasyprint.HTML(string=_page(paper, page, screen=False), url_fetcher=_nothing).write_pdf()
    return bytes(made or b"")


def comma_separated(paper: Record) -> str:
    """The readings of a bench record as CSV, by RFC 4180: numbers as numbers, text never as a formula."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(["entry", "at", "check", "reading", "value", "unit", "meaning"])
    for row in paper.readings:
        writer.writerow([cell(v) for v in (row.entry, row.at, row.check, row.name, row.value, row.unit, row.verdict)])
    return stream.getvalue()


def _nothing(url: str, *_: object, **__: object) -> Any:
    raise ValueError(f"a paper fetches nothing, not even {url}")


def _name(paper: object) -> str:
    return re.sub(r"(?<=[a-z])(?=[A-Z])", "_", type(paper).__name__).lower()


def _harmless_html(value: object) -> object:
    return value if hasattr(value, "__html__") or isinstance(value, int) else plain(value)


def _harmless_markdown(value: object) -> object:
    return value if isinstance(value, int) else markdown(value)


def _drawn(curve: Curve) -> Any:
    """A plot as SVG. Its texts are made plain here, and escaped where it is drawn."""
    lines = tuple((plain(name), x, y) for name, x, y in curve.lines)
    told = replace(curve, title=plain(curve.title), x_name=plain(curve.x_name), y_name=plain(curve.y_name), lines=lines)
    return markupsafe.Markup(plot.svg(told))


def _environment(**options: Any) -> Environment:
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("chopstick.cli.papers"), undefined=jinja2.StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
        **options,
    )  # fmt: skip
    made.filters |= {
        "minutes": lambda count: f"{count:.0f} min", "percent": percent, "money": money, "named": named,
        "volts": lambda volts: show(volts, "V"), "hazard": lambda hazard: HAZARD.get(hazard, ""), "svg": _drawn,
    }  # fmt: skip
    return made


@cache
def _html() -> Environment:
    return _environment(autoescape=True, finalize=_harmless_html)


@cache
def _markdown() -> Environment:
    return _environment(autoescape=False, finalize=_harmless_markdown)
