"""Small circuits for the tests of the circuit room."""

from typing import Any

from chopstick.engine.circuit.netlist import Circuit

STAGE: dict[str, Any] = {
    "title": "one stage",
    "summary": "a 12AX7 stage on its own supply",
    "input": "in",
    "supplies": {
        "main": {
            "node": "bplus_1", "rectifier": "5Y3GT", "secondary_V": 250, "source_ohm": 150, "reservoir": "C10",
            "alternatives": ["5V4GA"],
        }
    },
    "parts": {
        "C10": {"kind": "electrolytic", "farad": "16u", "nodes": ["bplus_1", "chassis"]},
        "R10": {"kind": "resistor", "ohm": "10k", "nodes": ["bplus_1", "bplus_2"]},
        "C11": {"kind": "electrolytic", "farad": "16u", "nodes": ["bplus_2", "chassis"]},
        "R1": {"kind": "resistor", "ohm": "1M", "nodes": ["in", "chassis"]},
        "R3": {"kind": "resistor", "ohm": "100k", "nodes": ["bplus_2", "v1a.plate"]},
        "R4": {"kind": "resistor", "ohm": "1k5", "nodes": ["v1a.cathode", "chassis"]},
        "C4": {"kind": "electrolytic", "farad": "25u", "nodes": ["v1a.cathode", "chassis"]},
        "C5": {"kind": "capacitor", "farad": "22n", "nodes": ["v1a.plate", "out"]},
        "R5": {"kind": "resistor", "ohm": "470k", "nodes": ["out", "chassis"]},
    },
    "tubes": {"V1a": {"type": "12AX7", "grid": "in", "plate": "v1a.plate", "cathode": "v1a.cathode"}},
    "stages": {
        "input": {
            "title": "Input", "tubes": ["V1a"],
            "parts": {"R1": "grid leak", "R3": "plate load", "R4": "cathode resistor", "C4": "bypass"},
        },
        "next": {"title": "Next", "parts": {"C5": "coupling capacitor", "R5": "grid leak"}},
        "supply": {"title": "Supply", "supplies": ["main"], "parts": {"C10": "first", "R10": "dropper", "C11": "filter"}},
    },
    "test_points": ["v1a.plate", "v1a.cathode", "out", "bplus_1", "bplus_2"],
}  # fmt: skip


def circuit(**changes: dict[str, Any]) -> Circuit:
    """The stage, with parts changed: circuit(R3={"ohm": "220k"})."""
    parts = {name: {**part, **changes.get(name, {})} for name, part in STAGE["parts"].items()}
    return Circuit.model_validate({**STAGE, "parts": parts})
