"""Several readings or answers on one line: `plate 288 cathode 1.4`, `CHECK=VALUE CHECK=VALUE`."""

from __future__ import annotations

import re

from ...engine.knowledge import model
from ...engine.reasoning.answers import AnswerError

_ASSIGNED = re.compile(r"(?:^|\s)(?=[a-z0-9][a-z0-9-]*(?:\.[a-z0-9-]+)?\s*=)")
_VALUE = re.compile(r"[+-−]?[.\d]|(?:ol|o\.l\.|open|∞)$", re.IGNORECASE)


def assigned(typed: str) -> list[str]:
    """The CHECK=VALUE words of a line; none when it is no such line."""
    if "=" not in typed:
        return []
    words = [word.strip() for word in _ASSIGNED.split(typed) if word.strip()]
    if not all("=" in word for word in words):
        raise AnswerError(f"'{typed}': several checks on one line go CHECK=VALUE CHECK=VALUE")
    return [re.sub(r"\s*=\s*", "=", word, count=1) for word in words]


def readings(check: model.Check, typed: str) -> dict[str, str]:
    """The readings of one check that a line gives, by name; none when it is a single value. Without names they are
    taken in the order in which they are asked for. Raises AnswerError."""
    tokens = typed.replace(":", " ").split()
    if len(check.readings) < 2 or len(tokens) < 2:
        return {}
    named, loose = _split(check, tokens)
    if named:
        if loose:
            raise AnswerError(f"which reading is '{' '.join(loose)}'? {_takes(check)}")
        return named
    if len(loose) == 1:
        return {}
    if len(loose) != len(check.readings):
        raise AnswerError(f"{len(loose)} values for {len(check.readings)} readings. {_takes(check)}")
    return dict(zip(check.readings, loose, strict=True))


def _takes(check: model.Check) -> str:
    example = " ".join(f"{name.split('-')[0]} VALUE" for name in check.readings)
    return f"This check takes: {', '.join(check.readings)}; as in: {example}"


def _split(check: model.Check, tokens: list[str]) -> tuple[dict[str, str], list[str]]:
    """Values by reading, and values before any name."""
    named: dict[str, str] = {}
    loose: list[str] = []
    current = ""
    meant: set[str] = set()  # the readings that the name words since the last value can mean
    for token in tokens:
        called = {name for name in check.readings if token.lower() == name or token.lower() in name.split("-")}
        if _VALUE.match(token):
            if meant:
                current, meant = _one(check, meant, token), set()
            if current and current not in named:
                named[current] = token
            elif current:
                raise AnswerError(f"two values for '{current}'. {_takes(check)}")
            else:
                loose.append(token)
        elif called and current not in called:
            meant = (meant & called) or called
        elif current:
            named[current] += f" {token}"
        elif loose:
            loose[-1] += f" {token}"
        else:
            return {}, [" ".join(tokens)]
    return named, loose


def _one(check: model.Check, meant: set[str], value: str) -> str:
    if len(meant) > 1:
        raise AnswerError(f"{value} could be {' or '.join(sorted(meant))}. {_takes(check)}")
    return next(iter(meant))
