"""Steps, entries of a log, proofs and probabilities in the words in which a person would say them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from ..bench.notation import show
from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from .log import (
    AmpFactsTold,
    Answer,
    CircuitChosen,
    HoldAnswered,
    LogEntry,
    Note,
    Photo,
    Reading,
    RepairDone,
)
from .steps import Step


def cause_name(base: KnowledgeBase, cause: str) -> str:
    """A cause by its name; by its id when the knowledge base has it no longer."""
    return base.causes[cause].name if cause in base.causes else cause


def how_exact(bound: float) -> str:
    """How far the percentages may be off; '' where they are exact."""
    if bound == 0:
        return ""
    why = "Estimated: so much that hangs together was said of this amp that it can't be summed exactly."
    if bound < 0.5:
        return f"{why} No percentage is off by more than {max(1, math.ceil(bound * 100))} points."
    return f"{why} How far they are off can't be told; they get exact as complaints and doubtful answers go."


def step_name(base: KnowledgeBase, step: Step) -> tuple[str, str]:
    """A step's name and its stage of work."""
    if step.kind in ("check", "proof"):
        return base.checks[step.id].name, base.checks[step.id].stage
    if step.kind == "repair":
        return base.repairs[step.id].name, base.repairs[step.id].stage
    if step.kind == "move":
        return base.moves[step.id].name, base.moves[step.id].blocks
    if step.kind in ("hold", "held"):
        return hold_asks(base, step.id)
    return "", ""


def hold_asks(base: KnowledgeBase, id_: str) -> tuple[str, str]:
    """What a hold asks, and the stage of work that it bars; of a danger or a check left untold, what it is about."""
    if id_ in base.holds:
        return base.holds[id_].ask, base.holds[id_].blocks
    kind, _, about = id_.partition("/")
    if kind == "danger" and about in base.findings:
        return f"Danger: {base.findings[about].text}", "first power"
    return (f"Not told yet: {base.checks[about].name}" if about in base.checks else id_), "first power"


def said_of(base: KnowledgeBase, entries: Iterable[LogEntry]) -> str:
    """Log entries as a person would say them."""
    return "; ".join(filter(None, (_said(base, entry) for entry in entries)))


def entry_said(base: KnowledgeBase, entry: LogEntry) -> str:
    """One log entry in full: what it is about and what was said."""
    said = said_of(base, [entry])
    if isinstance(entry, Answer | Reading) and entry.check in base.checks:
        return f"{base.checks[entry.check].name}: {said}"
    if isinstance(entry, HoldAnswered):
        return f"{hold_asks(base, entry.hold)[0]}: {said}"
    if isinstance(entry, CircuitChosen):
        return f"circuit: {entry.circuit or 'none'}"
    if isinstance(entry, RepairDone) and entry.repair in base.repairs:
        return f"repair: {base.repairs[entry.repair].name}"
    if isinstance(entry, AmpFactsTold):
        return ", ".join(f"{name} {value}" for name, value in entry.amp.items())
    if isinstance(entry, Photo):
        return f"photograph {entry.path}" + (f": {entry.text}" if entry.text else "")
    return entry.text if isinstance(entry, Note) else entry.kind


def _said(base: KnowledgeBase, entry: LogEntry) -> str:
    if isinstance(entry, Answer):
        return entry.answer
    if isinstance(entry, Reading) and entry.check in base.checks:
        readings = base.checks[entry.check].readings
        said = {name: show(value, readings[name].unit) for name, value in entry.values.items() if name in readings}
        return ", ".join(f"{name} {value}" for name, value in said.items()) if len(said) > 1 else "".join(said.values())
    if isinstance(entry, HoldAnswered):
        told = [volts_said(entry.volts) or ("yes" if entry.cleared else "no")]
        ready = [base.checks[id_].name for id_ in entry.prepared if id_ in base.checks]
        told += [f"made ready: {', '.join(ready)}"] if ready else []
        return "; ".join((*told, entry.reason) if entry.reason else told)
    return "done" if isinstance(entry, RepairDone) else ""


def volts_said(volts: Mapping[str, float]) -> str:
    """What was read at the filter nodes; those without a name of a circuit by their number."""
    return ", ".join(f"{name.replace('node_', 'filter node ')} {show(value, 'V')}" for name, value in volts.items())


def proof_wants(base: KnowledgeBase, proof: model.Proof) -> str:
    """What the check that proves a repair must show."""
    if proof.gone:
        return f"Must be gone: {base.text(proof.gone)}"
    return f"Must be so: {base.text(proof.found or '')}"


def percent(probability: float) -> str:
    """A probability for people. Never 0 or 100, unless a rule says so."""
    if probability <= 0:
        return "ruled out"
    if probability < 0.01:
        return "under 1%"
    return "over 99%" if probability > 0.99 else f"{probability:.0%}"
