"""Which findings forbid power: those that dangerous causes are likely behind. Nobody has to remember a rule for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from . import model

BEHIND = 0.5  # dangerous causes are behind a finding in at least this share of the amps that show it
WEIGHS = 0.25  # and of these, this share must forbid as much as is forbidden
SHOWS = 0.8  # a cause is betrayed by a finding that it shows at least this often
STRICTER: tuple[model.Bars, ...] = ("power", "power tubes", "play")  # each forbids what the next does


class Knowledge(Protocol):
    """What is needed of a knowledge base for it (base.KnowledgeBase)."""

    @property
    def findings(self) -> Mapping[str, model.Finding]: ...

    @property
    def causes(self) -> Mapping[str, model.Cause]: ...

    @property
    def causes_showing(self) -> Mapping[str, tuple[str, ...]]: ...

    @property
    def forbidding(self) -> Mapping[str, Forbids]: ...

    @property
    def scale(self) -> model.Scale: ...

    def how_often(self, word: str) -> float: ...

    def leak(self, id_: str) -> float: ...


@dataclass(frozen=True)
class Forbids:
    """What a finding forbids while it stands. causes: the dangerous ones that show it."""

    bars: model.Bars
    causes: tuple[str, ...]


def bars_of(cause: model.Cause) -> model.Bars:
    """What a cause's danger forbids."""
    if cause.bars is not None:
        return cause.bars
    return "power" if cause.hazard in ("shock", "fire") else "nothing"


def forbidding(base: Knowledge) -> Mapping[str, Forbids]:
    """For each finding that forbids power, or some of it, what it forbids. Complaints never do: a finding of a check
    must say more."""
    found: dict[str, Forbids] = {}
    for finding in base.findings.values():
        if finding.bars is False:
            continue
        mass = {
            id_: base.scale.commonness[base.causes[id_].commonness] / 1000
            * base.how_often(base.causes[id_].shows[finding.id])
            for id_ in base.causes_showing.get(finding.id, ())
        }  # fmt: skip
        grave = {id_: share for id_, share in mass.items() if bars_of(base.causes[id_]) != "nothing"}
        if not grave:
            continue
        behind = sum(grave.values()) / (sum(mass.values()) + base.leak(finding.id))
        if finding.bars or behind >= BEHIND:
            found[finding.id] = Forbids(_strictest(base, grave), tuple(grave))
    return found


def _strictest(base: Knowledge, grave: Mapping[str, float]) -> model.Bars:
    total, so_far = sum(grave.values()), 0.0
    for bars in STRICTER:
        so_far += sum(share for id_, share in grave.items() if bars_of(base.causes[id_]) == bars)
        if so_far >= WEIGHS * total:
            return bars
    return STRICTER[-1]


def betrayed_by(base: Knowledge, cause: model.Cause) -> Mapping[str, model.Bars]:
    """The findings by which a dangerous cause is betrayed: it shows them usually, and they forbid what it forbids. None
    for a cause that forbids nothing."""
    if bars_of(cause) == "nothing":
        return {}
    wanted = STRICTER.index(bars_of(cause))
    return {
        id_: forbids.bars
        for id_, word in cause.shows.items()
        if (forbids := base.forbidding.get(id_)) is not None
        and base.how_often(word) >= SHOWS
        and STRICTER.index(forbids.bars) <= wanted
    }
