"""One small paper of each kind with every field filled, and every text of it replaceable by another."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from typing import Any, cast

from chopstick.cli.papers.models import (
    Blank,
    Checklist,
    Compared,
    Ending,
    EntryRow,
    Estimate,
    EstimatedWork,
    HandBack,
    Head,
    Intake,
    Item,
    Line,
    Option,
    Pair,
    PartRow,
    ReadingRow,
    Record,
    StageOfWork,
    Sum,
    Ticks,
    VoltsRow,
    Work,
    WorkOrder,
)
from chopstick.engine.bench.figure import Curve

PAIR = (Pair("word", "text"),)
HEAD = Head("Title", 7, "name", "2026-03-02", "7-3-1a2b", ("it hums",), PAIR, PAIR, "caution")
CURVE = Curve("sweep", "dial", "share", (("fit", (0.0, 5.0, 10.0), (0.0, 15.0, 100.0)), ("read", (5.0,), (14.0,))))
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
    Estimate(
        HEAD, (EstimatedWork("Replace", "leaky", "likely", 20.0, (PartRow("capacitor", "400 V", 2, "3.00 EUR"),), "40.00 EUR"),),
        PAIR, "of 100", ("no price",), ("over",), "Approved",
    ),
    WorkOrder(
        HEAD, ("Ready?",),
        (Work("Replace", "leaky", 20.0, "technician", "It burns.", ("lift", "fit"), (PartRow("capacitor", "400 V", 2, "1"),), PAIR, "voice", "listen", "gone"),
         Work("Clean", "dirty", 5.0, "junior", "", ("spray",), (), (), "law", "turn", "gone", done=True)),
        ("Listen",), 20.0, PAIR, "approved by", ("a tube",),
    ),
    HandBack(
        HEAD, (Ending("it hums", "cured", True), Ending("it buzzes", "open", False)), (Compared("hum", "there", "gone", "none"),),
        ("found",), ("done",), ("left",), ("advice",), ("care",), "until then",
    ),
    Record(
        HEAD, PAIR, PAIR, (ReadingRow(4, "2026-03-02 09:00", "plates", "volts", -38.5, "V", "-38.5 V", "high"),),
        (Sum("plates", "share", "70 %", ("a / b",), ("hot",), "rule.", "sheet", "over", CURVE),),
        PAIR, PAIR, ("not both",), ("nearly",), ("a note",), (EntryRow(1, "09:00", "opened", True), EntryRow(2, "09:01", "note")), PAIR,
        "circuit", (VoltsRow("v1a.plate", "245 V", "180 V", False),),
    ),
)  # fmt: skip


def retold(value: Any, text: Callable[[str], str]) -> Any:
    """The same paper with every text that is not empty put through `text`; kinds and numbers stay."""
    if isinstance(value, str):
        return text(value) if value else value
    if isinstance(value, tuple):
        return tuple(retold(one, text) for one in value)
    if is_dataclass(value) and not isinstance(value, type):
        kept = ("kind",)
        return replace(
            cast(Any, value),
            **{one.name: retold(getattr(value, one.name), text) for one in fields(value) if one.name not in kept},
        )
    return value
