"""A page of the manual on a screen: its Markdown laid out as everything else is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from markdown_it import MarkdownIt
from markdown_it.token import Token

from .screen import Screen

FOLDER = Path(__file__).parents[1] / "manual"
# In the order in which one wants them; the tests see to it that every page is named.
ORDER = (
    "first-job", "bench", "words", "papers", "figures", "circuits", "costs", "shop-knowledge", "kept-jobs",
    "answer-files",
)  # fmt: skip


def pages() -> tuple[Path, ...]:
    """Every page, in reading order."""
    return tuple(FOLDER / f"{name}.md" for name in ORDER)


def named(wanted: str) -> tuple[Path, ...]:
    """The page of that name, or those whose names begin so."""
    wanted = wanted.lower().removesuffix(".md")
    return tuple(one for one in pages() if one.stem == wanted) or tuple(
        one for one in pages() if one.stem.startswith(wanted)
    )


def contents(screen: Screen) -> None:
    """What pages there are."""
    screen.line("The manual", "bold")
    screen.table(((one.stem, one.read_text(encoding="utf-8").partition("\n")[0].lstrip("# ")) for one in pages()), 2)
    screen.line("Read one: chopstick manual PAGE")


def lay_out(screen: Screen, text: str) -> None:
    """A page, block by block."""
    tokens = MarkdownIt("commonmark").enable("table").parse(text)
    inside: list[str] = []  # what the present block stands in
    row: list[str] = []
    rows: list[Sequence[str]] = []
    for token in tokens:
        kind = token.type
        if kind.endswith("_open"):
            inside.append(kind.removesuffix("_open"))
            if kind == "tr_open":
                row = []
        elif kind.endswith("_close"):
            inside.pop()
            if kind == "tr_close":
                rows.append(row)
            elif kind == "table_close":
                screen.table(rows[1:], indent=2)  # without its head: the columns speak for themselves
                rows = []
                screen.line()
        elif kind == "inline" and ("td" in inside or "th" in inside):
            row.append(_words(token))
        elif kind == "inline":
            _block(screen, inside, _words(token))
        elif kind in ("fence", "code_block"):
            for line in token.content.rstrip("\n").split("\n"):
                screen.verbatim(line, indent=2)
            screen.line()


def _block(screen: Screen, inside: Sequence[str], words: str) -> None:
    if "heading" in inside:
        screen.line(words, "bold")
    elif "list_item" in inside:
        screen.bullets([words], indent=2)
        return
    else:
        screen.line(words, indent=2 if "blockquote" in inside else 0)
    screen.line()


def _words(token: Token) -> str:
    """The words of a line, without its marks."""
    return "".join(_told(token.children or ()))


def _told(children: Sequence[Token]) -> Iterator[str]:
    for child in children:
        if child.type in ("text", "code_inline"):
            yield child.content
        elif child.type in ("softbreak", "hardbreak"):
            yield " "
