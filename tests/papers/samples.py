"""One small paper of each kind with every field filled, and every text of it replaceable by another."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from typing import Any, cast

from chopstick.cli.papers.models import (
    Blank,
    Checklist,
    EntryRow,
    HandBack,
    Head,
    HowItEnded,
    Intake,
    Item,
    Line,
    Option,
    OwnersEstimate,
    Pair,
    ReadingRow,
    Record,
    SideBySide,
    StageOfWork,
    Sum,
    Tested,
    Ticks,
    WorkOrder,
)
from chopstick.engine.bench.figure import Curve, Figure
from chopstick.engine.jobs.shop.estimate import CostBand, Estimate, PricedPart, Work
from chopstick.engine.reasoning.parts_needed import PartNeeded
from chopstick.engine.report import Report
from chopstick.engine.reports.repairs import ProofOfRepair, RepairOfJob
from chopstick.engine.reports.volts import PointRead, VoltsOfJob

PAIR = (Pair("word", "text"),)
HEAD = Head("Title", 7, "name", "2026-03-02", "7-3-1a2b", ("it hums",), PAIR, PAIR, "caution")
CURVE = Curve("sweep", "dial", "share", (("fit", (0.0, 5.0, 10.0), (0.0, 15.0, 100.0)), ("read", (5.0,), (14.0,))))
FIGURE = Figure("share", 70.0, "percent", ("a / b",), "rule.", "sheet", ("hot",), "over", curve=CURVE)
RANGE = CostBand(low=1.0, likely=2.0, high=3.0)
PART = PricedPart(part="capacitor", value="22 n", rating="400 V", quantity=2, each=1.5, cost=3.0, instead=(), keep="the value")
WORK = Work(
    repair="fit", name="Replace", cause="leaky", cause_name="Leaky", probability=0.5, state="likely", minutes=20.0,
    parts=(PART, PART.model_copy(update={"cost": None})), parts_cost=3.0, labour=37.0, total=40.0,
)  # fmt: skip
ESTIMATE = Estimate(
    number=7, job="name", fingerprint="f", currency="EUR", hour=60.0, works=(WORK,), checks_minutes=(1.0, 2.0), minutes=RANGE,
    total=RANGE, spent_minutes=1.0, spent=1.0, confidence=0.8, exact=True, unexplained=0.0, complete=False, missing=("no price",),
    unpriced=("no price",), over_approved="over", over_budget="over too",
)  # fmt: skip
REPAIR = RepairOfJob(
    repair="fit", name="Replace", cause="leaky", cause_name="Leaky", probability=0.5, state="proposed", minutes=20.0,
    skill="technician", hazard="fire", steps=("lift", "fit"), parts=(PartNeeded(part="capacitor", value="", rating="400 V", quantity=2),),
    cautions=("care",), caution_ids=("live",), keeps="voice",
    proof=ProofOfRepair(check="listen", name="Listen", stage="play", gone="hum", found="", wants="gone"),
)  # fmt: skip
PAPERS: tuple[Any, ...] = (
    Checklist(
        HEAD,
        (
            StageOfWork(
                "live", "live work", PAIR,
                (Line(1, "hold", "ready", "Ready?", text="why", options=(Option("yes"), Option("no")), ok="yes"),),
                (
                    Item(
                        "plates", "Measure", 5.0, "do this", "normal is that",
                        (
                            Line(2, "answer", "cord", "Whole?", options=(Option("yes", "it is"), Option("no")), ok="yes"),
                            Line(3, "reading", "plates", "Volts", "volts", "v1a.plate", "V", expected="180 V", bands=("over", "under")),
                        ),
                        "because", ("meter",), ("live",), ("share: over",),
                    ),
                ),
            ),
        ),
        12.0,
        3,
    ),
    Intake(HEAD, (Blank("Wet?", ("yes", "no")),), (Blank("Serial"),), (Blank("Mains", (), "V"),), (Ticks("hum", ("it hums",)),)),
    OwnersEstimate(HEAD, ESTIMATE, PAIR, "of 100", ("no price",), "Approved"),
    WorkOrder(
        HEAD, ("Ready?",), (REPAIR, REPAIR.model_copy(update={"state": "done", "hazard": "none", "parts": (), "caution_ids": ()})),
        ("Listen",), 20.0, PAIR, "approved by", ("a tube",),
    ),
    HandBack(
        HEAD, (HowItEnded("it hums", "cured", True), HowItEnded("it buzzes", "open", False)), (SideBySide("hum", "there", "gone", "none"),), (Tested("earth", "0.1 ohm", "under 0.2 ohm"),),
        ("found",), ("done",), ("left",), ("advice",), ("care",), "until then",
    ),
    Record(
        HEAD, PAIR, PAIR, (ReadingRow(4, "2026-03-02 09:00", "plates", "volts", -38.5, "V", "-38.5 V", "high"),),
        (Sum("plates", "share", "70 %", FIGURE),),
        PAIR, PAIR, ("not both",), ("nearly",), ("a note",), (EntryRow(1, "09:00", "opened", True), EntryRow(2, "09:01", "note")), PAIR,
        VoltsOfJob(circuit="circuit", title="its title", readings=(PointRead(point="v1a.plate", volts=245.0, expected=180.0, low=170.0, high=190.0),)),
    ),
)  # fmt: skip


KEPT = ("kind", "state", "hazard", "caution_ids")  # they choose what is laid out; ids are no texts


def retold(value: Any, text: Callable[[str], str]) -> Any:
    """The same paper with every text that is not empty put through `text`; kinds and numbers stay."""
    if isinstance(value, str):
        return text(value) if value else value
    if isinstance(value, tuple):
        return tuple(retold(one, text) for one in value)
    if isinstance(value, Report):
        return value.model_copy(
            update={name: retold(getattr(value, name), text) for name in type(value).model_fields if name not in KEPT}
        )
    if is_dataclass(value) and not isinstance(value, type):
            return replace(
            cast(Any, value),
            **{one.name: retold(getattr(value, one.name), text) for one in fields(value) if one.name not in KEPT},
        )
    return value
