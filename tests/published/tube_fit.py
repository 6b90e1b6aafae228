"""Fits the constants of the tube laws to the published operating points, and says what error is left.

The points stand in kb/reference/tubes.yaml (and a few derived ones in kb/reference/tube_models.yaml); the fitted
constants and the error left at each point stand in kb/reference/tube_models.yaml. To renew that file:

    python -m tests.published.tube_fit

The fit is least squares on the logarithms of the constants (scipy), with a weak pull towards a starting set of the same
kind of tube, since two or three points can't settle six constants.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from chopstick.engine.devices.library import MODELS_FILE, model_of
from chopstick.engine.devices.tubes import Array, Pentode, Triode, scalar_flow
from chopstick.engine.reference.text import read_file
from scipy.optimize import least_squares

_HEADER = """\
# Constants of the tube laws (engine/devices/tubes.py), fitted to the operating points of tubes.yaml and to the
# extra points below. `left` is the table of what the fit misses at each point, in percent of the printed figure.
# `start` holds the fit weakly where the points do not settle a constant: sets of the 1996 article for the types it
# treats, a similar type's set for the others. Capacitances are the tube alone, without socket and wiring.
# Written by `python -m tests.published.tube_fit`; edit only `start`, `capacitance_pF` and `extra_points`.
# Extra points: the printed supply less the drop in the printed shared screen and cathode resistors.
sources: {start: glass-audio-1996, capacitance_pF: tube-capacitances, capacitances_seen: false}
"""

TRIODE_NAMES = ("mu", "x", "kg1", "kp", "kvb")
PENTODE_NAMES = ("mu", "x", "kg1", "kg2", "kp", "kvb", "slope_per_V")
#: How far (as a share) each published quantity may be missed before it counts as one standard deviation.
SHARES = {
    "plate_mA": 0.02, "screen_mA": 0.06, "transconductance_uA_per_V": 0.05,
    "plate_resistance_ohm": 0.12, "mu": 0.05, "mu_grid_to_screen": 0.12, "cathode_mA": 0.03,
}  # fmt: skip
#: Pull towards the starting constants: standard deviation of the logarithm.
PULLS = {"mu": 0.2, "x": 0.06, "kg1": 2.0, "kg2": 2.0, "kp": 0.7, "kvb": 0.7, "slope_per_V": 1.5}
MOST_PLATE_V = 700  # points far above what a guitar amplifier runs at are left out
MEMORY_WEIGHT = 0.6  # a point quoted from memory pulls less than one that was read


@dataclass(frozen=True)
class Point:
    """One published operating point: volts to cathode, and the quantities printed for it."""

    plate_V: float
    screen_V: float
    grid_V: float
    quantities: Mapping[str, float]
    source: str
    seen: bool
    triode_connected: bool = False


@dataclass(frozen=True)
class Leftover:
    """What the fitted model gives against one printed quantity."""

    quantity: str
    printed: float
    model: float

    @property
    def percent(self) -> float:
        return 100.0 * (self.model / self.printed - 1.0)


def points_of(entry: Mapping[str, Any]) -> list[Point]:
    """The usable operating points of one tube's reference entry (points of other types of the family are left out)."""
    pentode = "pentode" in entry["kind"] or "beam" in entry["kind"]
    rows = [*entry.get("operating_points", []), *entry.get("push_pull", [])]
    return [point for row in rows if (point := _point(row, pentode)) is not None]


def _point(row: Mapping[str, Any], pentode: bool) -> Point | None:
    if "type" in row or "plate_V" not in row or row["plate_V"] > MOST_PLATE_V:
        return None
    each = {name: float(row[name]) for name in SHARES if name in row}
    for name, key in (
        ("plate_mA", "plate_each_mA"), ("screen_mA", "screen_each_mA"), ("cathode_mA", "cathode_each_mA"),
    ):  # fmt: skip
        if key in row:
            each[name] = float(row[key])
    connected = pentode and "screen_V" not in row
    total_mA = each.get("plate_mA", 0.0) + each.get("screen_mA", 0.0)
    if "plate_mA" not in each and "cathode_mA" not in each:
        return None
    if "grid_V" in row:
        grid_V = float(row["grid_V"])
    elif "cathode_resistor_ohm" in row:
        grid_V = -row["cathode_resistor_ohm"] * total_mA / 1000
    elif "common_cathode_resistor_ohm" in row:
        grid_V = -row["common_cathode_resistor_ohm"] * 2 * total_mA / 1000
    else:
        return None
    if connected:
        each = {"cathode_mA": each["plate_mA"]}
    screen_V = float(row.get("screen_V", row["plate_V"] if pentode else 0.0))
    return Point(float(row["plate_V"]), screen_V, grid_V, each, row["source"], bool(row["seen"]), connected)


def quantities(model: Triode | Pentode, point: Point) -> dict[str, float]:
    """Every printable quantity of `point`, as the model has it."""
    flow = scalar_flow(model, point.grid_V, point.plate_V, point.screen_V)
    current = [float(value) for value in flow.current]
    slope = [[float(value) for value in row] for row in flow.slope]
    result = {
        "plate_mA": current[1] * 1e3,
        "transconductance_uA_per_V": slope[1][0] * 1e6,
        "plate_resistance_ohm": 1.0 / max(slope[1][1], 1e-12),
        "mu": slope[1][0] / max(slope[1][1], 1e-12),
        "cathode_mA": current[1] * 1e3,
    }
    if isinstance(model, Pentode):
        result["screen_mA"] = current[2] * 1e3
        result["cathode_mA"] = (current[1] + current[2]) * 1e3
        result["mu_grid_to_screen"] = slope[1][0] / max(slope[1][2], 1e-12)
    return result


def leftovers(model: Triode | Pentode, point: Point) -> list[Leftover]:
    """The error left at one point, quantity by quantity."""
    found = quantities(model, point)
    return [Leftover(name, printed, found[name]) for name, printed in point.quantities.items() if name in found]


def fit(start: Triode | Pentode, points: Sequence[Point]) -> Triode | Pentode:
    """The constants that fit `points` best, starting from (and weakly held to) `start`."""
    names = TRIODE_NAMES if isinstance(start, Triode) else PENTODE_NAMES
    fixed = {field.name: getattr(start, field.name) for field in fields(start) if field.name not in names}
    origin = np.log([getattr(start, name) for name in names])
    pulls = np.array([PULLS[name] for name in names])

    def model(logs: Array) -> Triode | Pentode:
        values = dict(zip(names, (float(v) for v in np.exp(logs)), strict=True))
        return type(start)(**values, **fixed)

    def residuals(logs: Array) -> Array:
        found: list[float] = list((logs - origin) / pulls)
        for point in points:
            weight = 1.0 if point.seen else MEMORY_WEIGHT
            for left in leftovers(model(logs), point):
                ratio = max(left.model, 1e-9) / left.printed
                found.append(weight * float(np.log(ratio)) / SHARES[left.quantity])
        return np.array(found)

    return model(least_squares(residuals, origin, x_scale=pulls, xtol=1e-12, ftol=1e-12, gtol=1e-12).x)


def model_points(name: str, block: Mapping[str, Any], entries: Mapping[str, Any]) -> list[Point]:
    """The points that settle one tube's constants."""
    extra = {"kind": block["kind"], "operating_points": block.get("extra_points", [])}
    return [*points_of(entries[name]), *points_of(extra)]


def render_models() -> str:
    """The text of tube_models.yaml with every tube fitted again and its table of what is left."""
    entries = read_file(MODELS_FILE.parent / "tubes.yaml").value["tubes"]
    lines = [_HEADER, "models:"]
    for name, block in read_file(MODELS_FILE).value["models"].items():
        points = model_points(name, block, entries)
        fitted = fit(model_of(block, block["start"]), points)
        names = TRIODE_NAMES if block["kind"] == "triode" else PENTODE_NAMES
        constants = {key: float(f"{getattr(fitted, key):.6g}") for key in names}
        rounded = model_of(block, constants)
        lines += [
            "",
            f"  '{name}':" if name.isdigit() else f"  {name}:",
            f"    kind: {block['kind']}",
            f"    start: {_flow(block['start'])}",
            f"    constants: {_flow(constants)}",
            f"    capacitance_pF: {_flow(block['capacitance_pF'])}",
        ]
        if "extra_points" in block:
            lines += ["    extra_points:", *(f"    - {_flow(row)}" for row in block["extra_points"])]
        lines.append("    left:")
        for point in points:
            at = {"plate_V": point.plate_V, "screen_V": point.screen_V, "grid_V": round(point.grid_V, 3)}
            if isinstance(rounded, Triode):
                del at["screen_V"]
            left = {item.quantity: f"{item.percent:+.1f}" for item in leftovers(rounded, point)}
            tail = {"source": point.source, "seen": str(point.seen).lower()}
            lines.append(f"    - {_flow({**at, 'percent': _flow(left), **tail})}")
    return "\n".join(lines) + "\n"


def _flow(block: Mapping[str, Any]) -> str:
    shown = (f"{key}: {str(value).lower() if isinstance(value, bool) else value}" for key, value in block.items())
    return "{" + ", ".join(shown) + "}"


if __name__ == "__main__":
    MODELS_FILE.write_text(render_models(), encoding="utf-8")
