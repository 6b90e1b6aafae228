"""What all papers share: the head, dates, cautions by name, parts as rows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from ...engine.bench.notation import show
from ...engine.jobs.shop.agreement import Agreed, agreed
from ...engine.jobs.shop.money import money
from ...engine.knowledge import model
from ...engine.knowledge.base import KnowledgeBase
from ...engine.reasoning.log import Log
from ...engine.reasoning.session import Standing
from .models import OWNERS_CAUTION, Head, Pair


def head(title: str, now: Standing, log: Log, job: int, sheet: str = "") -> Head:
    """The head of a paper on a job, dated by the job's latest entry."""
    return Head(
        title=title,
        job=job,
        name=now.facts.title,
        date=f"{log[-1].at:%Y-%m-%d}" if log else "",
        sheet=sheet,
        says=complaints(now),
        about=tuple(details(agreed(log))),
        amp=amp(now.base, now.facts.amp),
    )


def owners_head(title: str, now: Standing, log: Log, job: int) -> Head:
    """A head for a paper that leaves the shop: the owner's caution in place of the bench's, no bench detail."""
    whole = head(title, now, log, job)
    serial = whole.about[:1] if agreed(log).serial else ()
    return replace(whole, sheet="", says=(), about=serial, caution=OWNERS_CAUTION)


def details(told: Agreed) -> Iterator[Pair]:
    """What came with the amp and what its owner wants, serial first."""
    if told.serial:
        yield Pair("serial", told.serial)
    if told.promised:
        yield Pair("promised", f"{told.promised:%Y-%m-%d}")
    if told.budget is not None:
        yield Pair("budget", money(told.budget, told.currency))
    if told.priority:
        yield Pair("what matters most", told.priority)
    if told.accessories:
        yield Pair("came with it", ", ".join(told.accessories))
    if told.work_before:
        yield Pair("earlier work", told.work_before)


def approval(told: Agreed) -> str:
    """The owner's last word on an estimate; '' when there is none."""
    word = told.approval
    if word is None:
        return ""
    by = f" by {word.by}" if word.by else ""
    up_to = f", up to {money(word.high, word.currency)}" if word.high is not None else ""
    return f"{'Approved' if word.approved else 'Declined'}{by} on {word.at:%Y-%m-%d}{up_to}."


def complaints(now: Standing) -> tuple[str, ...]:
    """The player's words, each complaint once."""
    return tuple(dict.fromkeys(says for _, says, _ in now.facts.complaints))


def amp(base: KnowledgeBase, facts: Mapping[str, model.AmpValue]) -> tuple[Pair, ...]:
    """What is known of the amp, in words."""
    pairs = []
    for name, value in facts.items():
        fact = base.amp_facts.get(name)
        if isinstance(value, float | int) and not isinstance(value, bool):
            text = show(float(value), (fact.unit if fact else None) or "ratio")
        else:
            text = str(value)
        pairs.append(Pair(name.replace("-", " "), text.removesuffix(" count")))
    return tuple(pairs)


def cautions(base: KnowledgeBase, ids: Iterable[str]) -> tuple[Pair, ...]:
    """Cautions by name, each once, in the order of the knowledge base."""
    wanted = set(ids)
    return tuple(Pair(named(id_), base.cautions[id_].text) for id_ in base.cautions if id_ in wanted)


def named(id_: str) -> str:
    """The id of an entry as words."""
    return id_.replace("-", " ")


def written(unit: str) -> str:
    """A unit of the knowledge base as it is written beside a blank."""
    return {"ohm": "Ω", "percent": "%", "C": "°C", "minutes": "min", "count": "", "ratio": ""}.get(unit, unit)
