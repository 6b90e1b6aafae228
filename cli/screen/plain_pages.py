"""Pages as lines that follow one another: for a pipe, a dumb terminal, a screen reader."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from .page import Page, PageBlock, Strip
from .prompts import Prompt
from .screen import Screen

Writes = Callable[[Screen], None]


class Lines:
    """Writes each page once, then asks; what is said in between simply follows."""

    def __init__(self, screen: Screen, prompt: Prompt) -> None:
        self.screen, self.prompt = screen, prompt
        self._page: Page | None = None
        self._strip = Strip(())
        self._told_keys = False

    def ask(self, page: Page, complete: Sequence[str] = ()) -> str:
        """What was typed in answer to the page's question. Raises Ended."""
        if not page.same_but_for_the_question(self._page):
            self._write(page)
        self._page = page
        return self.prompt.ask(page.question, complete)

    def say(self, text: str) -> None:
        """An answer to what was typed last."""
        self.screen.line(text)

    def tell(self, writes: Writes) -> None:
        """Something asked for: why, where, the words ..."""
        writes(self.screen)

    def result(self, writes: Writes, strip: Strip) -> str:
        """What an entry changed; never anything typed to it."""
        del strip
        writes(self.screen)
        return ""

    def last_words(self) -> None:
        """Nothing waits here: each line is shown at once."""

    def more(self, page: Page) -> None:
        """What the first view left out, and the cautions in full."""
        for block in page.more or page.first:
            self._block(block)

    def caution_fits(self, page: Page) -> bool:
        """Lines always have room."""
        del page
        return True

    def _write(self, page: Page) -> None:
        self.screen.line()
        if self.screen.plain:
            self._new_in_strip(page.strip)
        else:
            self.screen.line("-- " + " | ".join(page.strip.status))
            for label, text in page.strip.lines:
                self.screen.line(f"-- {label}: {text}")
        self.screen.heading(page.title)
        self.screen.pairs(("caution", text) for text in page.cautions)
        pairs: list[tuple[str, str]] = []
        for block in page.first:
            if block.way == "text":
                pairs.append((block.label, block.text))
                continue
            self.screen.pairs(pairs)
            pairs = []
            self._block(block)
        self.screen.pairs(pairs)
        if page.keys and not self._told_keys:
            self._told_keys = True
            self.screen.line("keys: " + ", ".join(page.keys))

    def _new_in_strip(self, strip: Strip) -> None:
        """For a screen reader: only what has changed since it was last read out."""
        fresh = [part for part in strip.status if part not in self._strip.status]
        if fresh:
            self.screen.line(f"{'; '.join(fresh)}.")
        for label, text in strip.lines:
            if (label, text) not in self._strip.lines:
                self.screen.line(f"{label}: {text}.")
        self._strip = strip

    def _block(self, block: PageBlock) -> None:
        if block.way == "text":
            self.screen.pairs([(block.label, block.text)])
            return
        self.screen.line(f"{block.label}:", "bold")
        if block.way == "steps":
            self.screen.numbered([row[0] for row in block.rows], indent=2)
        else:
            self.screen.table(block.rows, indent=2)
