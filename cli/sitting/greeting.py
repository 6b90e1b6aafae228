"""What `chopstick` alone shows: what it is, the standing caution, and where to begin."""

from __future__ import annotations

from ...engine.caution import STANDING
from ..screen.prompts import Ended, Prompt
from ..screen.screen import Screen
from .steering_words import Unclear

CHOICES = {
    "demo": "watch a whole job, from the player's words to the proof",
    "practice": "find the faults of a practice amp, with nothing at stake",
    "intake": "open a job: what the player says, and the amp",
    "bench": "go on with the last job, one check at a time",
}


def greet(screen: Screen, prompt: Prompt) -> str:
    """Say what there is; at a terminal, ask. The command that was chosen, or ''."""
    screen.line("chopstick: from a player's words to proven repairs, for tube (valve) guitar amplifiers.", "bold")
    screen.line()
    screen.line(STANDING)
    screen.line()
    if not prompt.edits:
        screen.pairs([(f"chopstick {word}", text) for word, text in CHOICES.items()], indent=2)
        screen.pairs([("chopstick manual", "read how it works"), ("chopstick --help", "everything else")], indent=2)
        return ""
    screen.line("Where do you want to begin?")
    screen.table([(f"{n}", word, text) for n, (word, text) in enumerate(CHOICES.items(), start=1)], indent=2)
    screen.line("Everything else: chopstick --help. One command's examples: chopstick bench --help")
    while True:
        try:
            typed = prompt.ask("1 to 4, or a word (Enter to leave):", list(CHOICES)).lower()
            return chosen(typed) if typed not in ("", "stop", "quit", "exit", "q") else ""
        except Unclear as error:
            screen.line(str(error))
        except Ended:
            return ""


def chosen(typed: str) -> str:
    """The choice that was meant by a number or the beginning of a word. Raises Unclear."""
    words = list(CHOICES)
    if typed.isdecimal() and 1 <= int(typed) <= len(words):
        return words[int(typed) - 1]
    begun = [word for word in words if word.startswith(typed)]
    if len(begun) == 1:
        return begun[0]
    raise Unclear(f"'{typed}' is none of: {', '.join(words)}. Type a number from 1 to {len(words)}, or Enter to leave.")
