"""The questions of `chopstick rules new`, and the file they become."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from ...engine.folders import write_whole
from ...engine.late import late
from .. import endings
from ..screen.prompts import Prompt
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.knowledge.base import KnowledgeBase

with late():
    import json

    from rapidfuzz import fuzz, process, utils

    from ...engine.knowledge.lint import references

_SEEN = {
    "found": "something that was found, seen or heard is so",
    "not found": "something was looked for and is not so",
    "complaint": "the player complains of something",
    "amp": "the amp is of a certain kind",
    "reading": "a reading is above or below a number",
}
_SAYS = {
    "raise": "a cause is more likely",
    "lower": "a cause is less likely",
    "advice": "tell the technician something",
    "check first": "a check should come first",
    "skip": "a check can be left out",
    "prefer": "a repair is the one to prefer",
}


def ask(base: KnowledgeBase, screen: Screen, prompt: Prompt, out: Path | None) -> Path:
    """Ask for one rule and write it; the file's path. Raises Ended when there is nobody to ask any more."""
    screen.line("A rule says: when this is so on a bench, then that follows, because of something you know.")
    because = _line(screen, prompt, "What do you know? One sentence; it is shown wherever the rule speaks:")
    conditions, speaks, silent = _conditions(base, screen, prompt)
    conclusions = _conclusions(base, screen, prompt)
    id_ = _id(base, screen, prompt, because)
    path = out or Path(f"{id_}.yaml")
    text = written(id_, because, conditions, conclusions, speaks, silent)
    while trouble := _written(path, text):
        screen.line(trouble)
        path = Path(_line(screen, prompt, "Write to which file?"))
    return path


def _written(path: Path, text: str) -> str:
    """Writes a new file; why that can't be, '' when it is done."""
    try:
        if path.exists():
            return f"{path} exists already; nothing is written over."
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text.encode())
    except OSError as error:
        return endings.in_a_sentence(error)
    return ""


def _conditions(base: KnowledgeBase, screen: Screen, prompt: Prompt) -> tuple[list[str], list[str], list[str]]:
    """Conditions, and what must be told for the rule to speak, and for it to be silent, all as YAML."""
    conditions: list[str] = []
    speaks: dict[str, list[str]] = {}
    silent: dict[str, list[str]] = {}
    while True:
        if conditions and not prompt.yes("Must something else be so as well? [yes, no]"):
            return conditions, _example(speaks), _example(silent)
        screen.line("When ...")
        kind = _choice(screen, prompt, _SEEN)
        first = not conditions
        if kind in ("found", "not found"):
            word = "finding" if kind == "found" else "denied"
            id_ = _entry(screen, prompt, "Which? (words or id)", _noted(base))
            conditions.append(f"{{{word}: {id_}}}")
            key, other = ("findings", "denied") if kind == "found" else ("denied", "findings")
            _tell(speaks, silent, first, (key, id_), (other, id_))
        elif kind == "complaint":
            names = {id_: one.name for id_, one in base.symptoms.items()}
            id_ = _entry(screen, prompt, "Which complaint? (words or id)", names)
            conditions.append(f"{{complaint: {id_}}}")
            _tell(speaks, silent, first, ("complaints", id_), None)
        elif kind == "amp":
            fact = _entry(screen, prompt, "Which fact of the amp?", {i: one.ask for i, one in base.amp_facts.items()})
            value, another = _amp_value(base, screen, prompt, fact)
            conditions.append(f"{{amp: {{{fact}: {value}}}}}")
            _tell(speaks, silent, first, ("amp", f"{fact}: {value}"), ("amp", f"{fact}: {another}"))
        else:
            name = _entry(screen, prompt, "Which reading or figure?", _quantities(base))
            word = _choice(screen, prompt, {"above": "it is above a number", "below": "it is below a number"})
            number = _number(screen, prompt, f"{word.capitalize()} how much, in {_unit(base, name)}?")
            conditions.append(f"{{value: {name}, {word}: {number:g}}}")
            step = max(1.0, abs(number) * 0.1) * (1 if word == "above" else -1)
            yes, no = f"{name}: {number + step:g}", f"{name}: {number - step:g}"
            _tell(speaks, silent, first, ("values", yes), ("values", no))


def _tell(
    speaks: dict[str, list[str]], silent: dict[str, list[str]], first: bool, yes: tuple[str, str],
    no: tuple[str, str] | None,
) -> None:  # fmt: skip
    """What each condition adds to the examples: all are so in the one that speaks, the first is not in the other."""
    speaks.setdefault(yes[0], []).append(yes[1])
    told = no if first else yes
    if told is not None:
        silent.setdefault(told[0], []).append(told[1])


def _example(told: Mapping[str, list[str]]) -> list[str]:
    maps = ("amp", "values")
    return [
        f"{key}: {{{', '.join(values)}}}" if key in maps else f"{key}: [{', '.join(values)}]"
        for key, values in told.items()
    ]


def _conclusions(base: KnowledgeBase, screen: Screen, prompt: Prompt) -> list[str]:
    conclusions: list[str] = []
    while True:
        if conclusions and not prompt.yes("Does something else follow? [yes, no]"):
            return conclusions
        screen.line("Then ...")
        kind = _choice(screen, prompt, _SAYS)
        if kind in ("raise", "lower"):
            names = {id_: one.name for id_, one in base.causes.items()}
            id_ = _entry(screen, prompt, "Which cause? (words or id)", names)
            by = _choice(screen, prompt, {word: f"odds by {factor:g}" for word, factor in base.scale.factor.items()})
            conclusions.append(f"{{{kind}: {id_}, by: {by}}}")
        elif kind == "advice":
            conclusions.append(f"{{advice: {_quoted(_line(screen, prompt, 'What should be said?'))}}}")
        elif kind == "prefer":
            names = {id_: one.name for id_, one in base.repairs.items()}
            conclusions.append(f"{{prefer: {_entry(screen, prompt, 'Which repair? (words or id)', names)}}}")
        else:
            names = {id_: one.name for id_, one in base.written.items()}
            word = kind.replace(" ", "_")
            conclusions.append(f"{{{word}: {_entry(screen, prompt, 'Which check? (words or id)', names)}}}")


def written(
    id_: str, because: str, conditions: list[str], conclusions: list[str], speaks: list[str], silent: list[str]
) -> str:
    """The rule as a file, with a comment on each part."""
    several = "\n      all:\n" + "\n".join(f"        - {one}" for one in conditions)
    when = conditions[0] if len(conditions) == 1 else several
    return (
        "# A rule of our own. Check it: chopstick rules check THIS-FILE; try it: chopstick rules trial THIS-FILE.\n"
        "# For other forms of conditions and conclusions see kb/examples in the sources of chopstick.\n"
        f"area: ours\ntitle: What we know ourselves\nabout: Rules from our own bench.\nrules:\n  {id_}:\n"
        "    # All that must be so for the rule to speak.\n"
        f"    when: {when}\n".replace("when: \n", "when:\n")
        + "    # What follows then.\n    then:\n"
        + "".join(f"      - {one}\n" for one in conclusions)
        + f"    # Shown wherever the rule has spoken.\n    because: {_quoted(because)}\n"
        "    # Situations in which it must speak, and others in which it must not; rules check tries them.\n"
        f"    examples:\n      speaks:\n        - {{{', '.join(speaks)}}}\n"
        f"      silent:\n        - {{{', '.join(silent)}}}\n"
    )


def _noted(base: KnowledgeBase) -> dict[str, str]:
    return {id_: base.text(id_) for id_ in (*base.findings, *base.symptoms)}


def _quantities(base: KnowledgeBase) -> dict[str, str]:
    names: dict[str, str] = {}
    for check in base.written.values():
        names |= {f"{check.id}/{name}": f"{reading.ask} ({check.name})" for name, reading in check.readings.items()}
        names |= {f"{check.id}/{name}": f"{one.text or name} ({check.name})" for name, one in check.figures.items()}
    return names


def _unit(base: KnowledgeBase, quantity: str) -> str:
    check_id, _, name = quantity.partition("/")
    check = base.checks[check_id]
    return check.readings[name].unit if name in check.readings else check.figures[name].unit or "its own unit"


def _amp_value(base: KnowledgeBase, screen: Screen, prompt: Prompt, fact: str) -> tuple[str, str]:
    """The value that is meant, and another one for the example that must not make the rule speak."""
    choices = references.amp_choices(base, fact)
    if not choices:
        number = _number(screen, prompt, f"{base.amp_facts[fact].ask} (a number)")
        return f"{number:g}", f"{number + 1:g}"
    value = _choice(screen, prompt, {one: base.amp_facts[fact].choices.get(one, "") for one in choices})
    other = next(one for one in (*choices, "unknown") if one != value)
    return _word(value), _word(other)


def _entry(screen: Screen, prompt: Prompt, message: str, names: Mapping[str, str]) -> str:
    """An id, by itself or found by words; the nearest are offered by number."""
    while True:
        typed = _line(screen, prompt, message)
        if typed in names:
            return typed
        found = process.extract(typed, dict(names), scorer=fuzz.WRatio, processor=utils.default_process, limit=5)
        screen.table([(f"{n}.", id_, text) for n, (text, _, id_) in enumerate(found, start=1)], indent=2)
        chosen = prompt.ask("Which number? (Enter for other words)")
        if chosen.isdecimal() and 0 < int(chosen) <= len(found):
            return str(found[int(chosen) - 1][2])
        if chosen in names:
            return chosen


def _choice(screen: Screen, prompt: Prompt, choices: Mapping[str, str]) -> str:
    if len(choices) <= 12:
        screen.table([(word, text) for word, text in choices.items()], indent=2)
    while True:
        typed = " ".join(_line(screen, prompt, f"[{', '.join(choices)}]" if len(choices) <= 12 else "Which?").split())
        exact = [word for word in choices if word.lower() == typed.lower()]
        begun = exact or [word for word in choices if word.lower().startswith(typed.lower())]
        if len(begun) == 1:
            return begun[0]
        screen.line(f"Please type one of: {', '.join(begun or choices)}")


def _number(screen: Screen, prompt: Prompt, message: str) -> float:
    while True:
        typed = _line(screen, prompt, message)
        try:
            number = float(typed)
        except ValueError:
            screen.line(f"'{typed}' is not a plain number, as in 4.5")
            continue
        if abs(number) < 1e12:
            return number


def _line(screen: Screen, prompt: Prompt, message: str) -> str:
    while not (typed := prompt.ask(message)):
        screen.line("Nothing was typed.")
    return typed[:300]


def _id(base: KnowledgeBase, screen: Screen, prompt: Prompt, because: str) -> str:
    words = re.findall(r"[a-z0-9]+", because.lower())[:5]
    proposed = "-".join(words)[:50].strip("-") or "our-rule"
    while proposed in base.rules:
        proposed += "-2"
    while True:
        typed = prompt.ask(f"A short name for it (Enter: {proposed}):") or proposed
        if re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", typed) and len(typed) <= 60 and typed not in base.rules:
            return typed
        screen.line("A name is small letters and digits with hyphens, as in cheap-jacks, and not taken yet.")


def _word(value: str) -> str:
    """A value as YAML that stays a word: a type number such as 5881 must not become a number."""
    return value if re.fullmatch(r"[A-Za-z][A-Za-z0-9-]*", value) else _quoted(value)


def _quoted(text: str) -> str:
    """Text as YAML that stays text, whatever is in it."""
    return json.dumps(text, ensure_ascii=False)
