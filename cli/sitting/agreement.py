"""What was agreed, ordered and approved, from the words of a command to log entries."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from ...engine.jobs.shop.agreement import waited_for
from ...engine.jobs.shop.estimate import Estimate, approval_of
from ...engine.reasoning.answers import AnswerError
from ...engine.reasoning.log import Approved, Arrived, Awaited, Details, Log, LogEntry
from ...engine.reference.errors import did_you_mean
from ..desk import DETAILS, now
from ..screen.screen import clean


@dataclass(frozen=True)
class Agreeing:
    """The words of a command. approve, decline: who said so, and how; up_to: the most that was approved."""

    details: Sequence[str] = ()
    awaits: Sequence[str] = ()
    arrived: Sequence[str] = ()
    approve: str | None = None
    up_to: str | None = None
    decline: str | None = None


def entries(
    given: Agreeing, log: Log, currency: str = "", estimated: Callable[[], Estimate] | None = None
) -> Iterator[LogEntry]:
    """The log entries that the words make. currency: the shop's, for sums without one; estimated: makes the estimate
    that an approval without a sum is taken to mean. Raises AnswerError."""
    if given.details:
        yield details(given.details, currency)
    for word in given.awaits:
        part, _, due = word.partition("=")
        if not part.strip():
            raise AnswerError("name the part that is awaited, as in --await 'output transformer=2026-03-01'")
        yield Awaited(at=now(), part=clean(part).strip(), due=day(due) if due else None)
    for word in given.arrived:
        yield Arrived(at=now(), number=waited_for(log, clean(word)).entry)
    if given.decline is not None:
        yield Approved(at=now(), approved=False, by=clean(given.decline))
    if given.approve is not None:
        yield _approved(given, currency, estimated)
    elif given.up_to is not None:
        raise AnswerError("--up-to goes with --approve WHO")


def _approved(given: Agreeing, currency: str, estimated: Callable[[], Estimate] | None) -> Approved:
    by = clean(given.approve or "")
    if given.up_to is not None:
        high, code = amount(given.up_to)
        return Approved(at=now(), high=high, currency=code or currency, by=by)
    approval = approval_of(estimated(), by, now()) if estimated else None
    if approval is None:
        raise AnswerError("say up to what amount it was approved, as in --approve 'the owner, by phone' --up-to 240")
    return approval


def details(given: Sequence[str], currency: str = "") -> Details:
    """KEY=VALUE words as one entry. Raises AnswerError."""
    told: dict[str, object] = {}
    for word in given:
        key, equals, value = word.partition("=")
        key, value = key.strip(), clean(value).strip()
        if not equals or key not in DETAILS:
            hint = did_you_mean(key, list(DETAILS))
            known = ", ".join(DETAILS)
            raise AnswerError(f"'{clean(word)}' is not a detail; it is KEY=VALUE with one of: {known}. {hint}".strip())
        if key == "budget":
            told["budget"], code = amount(value)
            told["currency"] = code or currency or None
        elif key == "promised":
            told["promised"] = day(value)
        elif key == "accessories":
            told["accessories"] = tuple(part.strip() for part in value.split(",") if part.strip())
        else:
            told[key.replace("-", "_")] = value
    return Details.model_validate({"at": now(), **told})


def day(typed: str) -> date:
    """A day, written as ISO 8601 has it. Raises AnswerError."""
    try:
        return date.fromisoformat(typed.strip())
    except ValueError:
        raise AnswerError(f"'{clean(typed)}' is not a day; write it as in 2026-03-01") from None


def amount(typed: str) -> tuple[float, str]:
    """A sum of money and its currency code of ISO 4217, '' when none was given. Raises AnswerError."""
    number, _, code = typed.strip().partition(" ")
    code = code.strip().upper()
    try:
        value = float(number.replace(",", ".") if number.count(",") == 1 and "." not in number else number)
    except ValueError:
        value = -1.0
    if not 0 <= value <= 1e7 or (code and not (len(code) == 3 and code.isascii() and code.isalpha())):
        raise AnswerError(f"'{clean(typed)}' is not an amount of money; write it as in 240 or '240.50 EUR'")
    return value, code
