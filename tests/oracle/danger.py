"""What the findings on an amp forbid, counted anew from the causes: which are dangerous, which finding mostly means such
a one, and which of them are settled by now."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from chopstick.engine.knowledge import model
from chopstick.engine.knowledge.base import KnowledgeBase, holds_true
from chopstick.engine.reasoning.deduce import Deduction
from chopstick.engine.reasoning.facts import Facts
from chopstick.engine.reasoning.log import HoldAnswered, Log, RepairDone, standing

MOSTLY = 0.5  # of the amps that show a finding, those in which a dangerous cause is behind it
USUAL = ("usually", "almost always")


@dataclass(frozen=True)
class Danger:
    """A finding that stands and what it forbids. causes: the dangerous ones that may be behind it."""

    finding: str
    bars: str
    causes: tuple[str, ...]


def bars(cause: model.Cause) -> str:
    """What a cause forbids; '' for nothing."""
    said = cause.bars or ("power" if cause.hazard in ("shock", "fire") else "")
    return "" if said == "nothing" else said


@dataclass(frozen=True)
class Dangers:
    """The dangers of one knowledge base."""

    base: KnowledgeBase

    @cached_property
    def telling(self) -> Mapping[str, tuple[str, ...]]:
        """The findings that speak of danger, each with the dangerous causes that it speaks of."""
        return {id_: causes for id_ in self.base.findings if (causes := tuple(self._behind(id_)))}

    def _behind(self, finding: str) -> Iterator[str]:
        said = self.base.findings[finding].bars
        if said is False:
            return
        showing = [self.base.causes[id_] for id_ in self.base.causes_showing.get(finding, ())]
        dangerous = [one for one in showing if bars(one)]
        usual = [one.id for one in dangerous if one.shows[finding] in USUAL]
        if said is True:
            yield from usual or [one.id for one in dangerous]
        elif usual:
            every = sum(self._amps(one, finding) for one in showing) + 1000 * self.base.leak(finding)
            if sum(self._amps(one, finding) for one in dangerous) > MOSTLY * every:
                yield from usual

    def _amps(self, cause: model.Cause, finding: str) -> float:
        """In how many of 1,000 amps it is there and shows the finding."""
        return self.base.scale.commonness[cause.commonness] * self.base.how_often(cause.shows[finding])

    def standing(self, log: Log, facts: Facts, deduction: Deduction) -> Iterator[Danger]:
        """Those that nothing has settled yet."""
        latest = {said.finding: said for said in deduction.findings} | facts.latest()
        taken_on = {
            entry.hold.removeprefix("danger/"): entry.cleared and bool(entry.reason.strip())
            for _, entry in standing(log)
            if isinstance(entry, HoldAnswered) and entry.hold.startswith("danger/")
        }
        done = [(number, entry) for number, entry in standing(log) if isinstance(entry, RepairDone)]
        for finding, causes in self.telling.items():
            said = latest.get(finding)
            if said is None or not said.present or taken_on.get(finding):
                continue
            if any(
                number > said.entry and self._accounts(entry.cause, finding) and self._proven(facts, number, entry)
                for number, entry in done
            ):
                continue
            left = [one for one in causes if not self._ruled_out(one, finding, said.entry, facts, deduction)]
            if left:
                yield from self._each(finding, left)

    def _each(self, finding: str, left: list[str]) -> Iterator[Danger]:
        for what in {bars(self.base.causes[one]) for one in left}:
            yield Danger(finding, what, tuple(one for one in left if bars(self.base.causes[one]) == what))

    def _accounts(self, cause: str, finding: str) -> bool:
        """Whether a cause that was mended may have been all that was behind a finding."""
        word = self.base.causes[cause].shows.get(finding, "never") if cause in self.base.causes else "never"
        return self.base.how_often(word) >= MOSTLY

    def _proven(self, facts: Facts, number: int, entry: RepairDone) -> bool:
        """Whether a repair held; one that only power can prove may be powered for it."""
        repair = self.base.repairs.get(entry.repair)
        if repair is None:
            return False
        proof = repair.proof_for(self.base.causes.get(entry.cause))
        wanted = proof.gone or proof.found
        last = facts.latest().get(wanted or "")
        if last is not None and last.entry > number:
            return last.present == (proof.found is not None)
        return self.base.checks[proof.check].stage in model.POWERED

    def _ruled_out(self, id_: str, finding: str, at: int, facts: Facts, deduction: Deduction) -> bool:
        """Whether the amp can't have it, or lacks, by a later answer, what it usually shows."""
        cause, latest = self.base.causes[id_], facts.latest()
        return (
            id_ in deduction.ruled_out
            or holds_true(cause.needs, facts.amp) is False
            or any(
                often in USUAL
                and one != finding
                and one in latest
                and not latest[one].present
                and latest[one].entry > at
                for one, often in cause.shows.items()
            )
        )
