"""From a schematic to a circuit file: which node is a plate and which a supply, what each part does, which stage it
belongs to. What a netlist can't say is asked for: `Drawn.asked`."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ..bench.notation import NotationError, parse, show
from ..devices.library import standard_library
from ..devices.tubes import Pentode
from ..late import late
from .netlist import CHASSIS
from .schematic import Item, Schematic, Section

with late():
    import yaml

FILTER_F = 4e-6
_AUTOMATIC = re.compile(r"^(n\d+.*|net[-_.].*|unconnected.*)$")


class NoSupply(ValueError):
    """A netlist has no source that feeds it, and none was named."""


@dataclass(frozen=True)
class OutputGiven:
    """The output transformer as it was told: its primary's nodes, plate, B+ and perhaps plate; its impedance (ohm)."""

    primary: tuple[str, ...]
    ohm: float


@dataclass(frozen=True)
class Drawn:
    """content: what a circuit file says, as plain values; asked: what it can't know, one sentence each."""

    content: Mapping[str, Any]
    asked: tuple[str, ...]


def drawn(
    schematic: Schematic, title: str, supplies: Mapping[str, float] | None = None, output: OutputGiven | None = None
) -> Drawn:
    """A circuit file's content. supplies: volts by node, where the netlist has no source. Raises ValueError when there
    is nothing to feed it, or a tube is of no known type."""
    asked: list[str] = [f"left out: {one}" for one in schematic.left_out]
    known = standard_library()
    for tube in schematic.tubes:
        known.tube(tube.type)  # raises, with the nearest names
        if isinstance(known.tube(tube.type), Pentode) and "screen" not in tube.nodes:
            raise ValueError(f"{tube.name} ({tube.type}) has no screen among its pins")
    named = _Namer(schematic, {**schematic.sources, **(supplies or {})})
    items = [replace(one, nodes=tuple(map(named, one.nodes))) for one in schematic.items]
    tubes = [replace(one, nodes={key: named(node) for key, node in one.nodes.items()}) for one in schematic.tubes]
    feeds = {named(node): volts for node, volts in {**schematic.sources, **(supplies or {})}.items()}
    if not feeds:
        likely = ", ".join(sorted(named.filters)) or "the node of the first filter capacitor"
        raise NoSupply(f"nothing feeds it: say where the B+ is, perhaps at {likely}, and how high")
    if output is not None:
        output = replace(output, primary=tuple(named(node) for node in output.primary))
    parts: dict[str, dict[str, Any]] = {}
    items = _joined(_without_loose_ends(items, tubes, feeds, output, asked))
    for item in items:
        if len(set(item.nodes)) < 2:
            asked.append(f"{item.name} joins a node to itself and is left out")
        else:
            parts[item.name] = _part(item, asked)
    roles = _Roles(parts, tubes, set(feeds), output)
    stages = roles.stages()
    for volts_at, volts in feeds.items():
        asked.append(
            f"the supply at {volts_at} is taken as {volts:g} V held by a source: for its rectifier's faults "
            "write it as a supply with rectifier, secondary_V, source_ohm and reservoir"
        )
    content: dict[str, Any] = {
        "title": title, "summary": f"Made from a netlist: {title}.",
        "supplies": {f"supply_{k}": {"node": node, "volts": volts} for k, (node, volts) in enumerate(feeds.items(), 1)},
        "parts": parts,
        "tubes": {t.name: {"type": t.type, **t.nodes} for t in tubes},
        "stages": stages,
        "test_points": roles.test_points(),
    }  # fmt: skip
    stages["supply"] = {
        "title": "Supply", "kind": "supply", "supplies": list(content["supplies"]), 
        "parts": stages.pop("supply")["parts"],
    }  # fmt: skip
    if output is not None:
        stages["output_transformer"] = {
            "title": "Output transformer and load",
            "kind": "output",
            "output_transformer": True,
        }
        windings = len(output.primary) - 1
        content["output"] = {
            "primary": list(output.primary), "primary_ohm": output.ohm, "winding_ohm": [100.0] * windings,
        }  # fmt: skip
        asked.append("the output transformer's winding_ohm is taken as 100 ohms a half: measure it, unplugged and bled")
    if source := roles.input():
        content["input"] = source
    return Drawn(content, tuple(asked))


def _without_loose_ends(
    items: list[Item],
    tubes: Sequence[Section],
    feeds: Mapping[str, float],
    output: OutputGiven | None,
    asked: list[str],
) -> list[Item]:
    """The parts but those that lead nowhere: a load on a transformer that is elsewhere, a jack's switch."""
    held = {CHASSIS, "in", "input", *feeds, *(node for tube in tubes for node in tube.nodes.values())}
    held |= set(output.primary) if output else set()
    kept = list(items)
    while True:
        ends = Counter(node for item in kept for node in set(item.nodes))
        loose = [item for item in kept if any(ends[node] == 1 and node not in held for node in item.nodes)]
        loose = [item for item in loose if item.kind != "potentiometer"]
        if not loose:
            return kept
        asked += [f"left out: {item.name} leads nowhere (node {', '.join(item.nodes)})" for item in loose]
        kept = [item for item in kept if item not in loose]


def _joined(items: list[Item]) -> list[Item]:
    """A choke and the resistance of its winding, which simulators take apart, as one."""
    ends = Counter(node for item in items for node in set(item.nodes))
    found = list(items)
    for choke in [item for item in items if item.kind == "choke"]:
        for wire in [item for item in items if item.kind == "resistor"]:
            shared = set(choke.nodes) & set(wire.nodes) - {CHASSIS}
            if len(shared) == 1 and ends[next(iter(shared))] == 2 and choke in found:
                (middle,) = shared
                a = next(node for node in choke.nodes if node != middle)
                b = next(node for node in wire.nodes if node != middle)
                found[found.index(choke)] = replace(choke, nodes=(a, b), value=f"{choke.value} {wire.value}")
                found.remove(wire)
                break
    return found


class _Namer:
    """New names for nodes that the editor numbered: a tube's electrode, or bplus_1 and so on along the supply."""

    def __init__(self, schematic: Schematic, feeds: Mapping[str, float]) -> None:
        self.filters = {
            one.nodes[0] if one.nodes[1] == CHASSIS else one.nodes[1]
            for one in schematic.items
            if one.kind in ("capacitor", "electrolytic") and CHASSIS in one.nodes and _farad(one.value) >= FILTER_F
        } - {tube.nodes.get("cathode", "") for tube in schematic.tubes}
        self._names: dict[str, str] = {CHASSIS: CHASSIS}
        order = [*feeds, *sorted(self.filters - set(feeds))]
        for index, node in enumerate((node for node in order if feeds.get(node, 1.0) > 0), 1):
            self._names[node] = f"bplus_{index}" if _AUTOMATIC.match(node) else node
        taken = set(self._names.values())
        for tube in schematic.tubes:
            for electrode in ("plate", "grid", "cathode", "screen"):
                end = tube.nodes.get(electrode, "")
                if end and end not in self._names and _AUTOMATIC.match(end):
                    name = f"{tube.name.lower()}.{electrode}"
                    self._names[end] = name if name not in taken else end
        self._names = {old: re.sub(r"[^a-z0-9_.]", "_", new) for old, new in self._names.items()}

    def __call__(self, node: str) -> str:
        return self._names.get(node, node)


def tidy_value(text: str, unit: str) -> str:
    """A value as editors and old schematics write it, in trade notation: 100K, 1MEG, 47 mfd, 22nF, .02."""
    typed = re.split(r"[/,]", text.strip())[0].strip()
    typed = re.sub(r"(?i)\s*(mfd|mf|uf|µf)$", "u", typed) if unit == "F" else typed
    typed = re.sub(r"(?i)\s*(pf|mmf|mmfd)$", "p", typed) if unit == "F" else re.sub(r"(?i)\s*(ohms?|r|Ω)$", "", typed)
    typed = re.sub(r"(?i)\s*nf$", "n", typed) if unit == "F" else re.sub(r"(?i)meg$", "M", typed)
    typed = re.sub(r"^\.", "0.", re.sub(r"(\d)\s+([a-zA-Z])", r"\1\2", typed))
    return typed.replace("K", "k").replace("U", "u").replace("N", "n").replace("P", "p") if unit != "H" else typed


def _number(text: str, unit: str) -> float:
    typed = tidy_value(text, unit)
    try:
        value = parse(typed, unit).value
    except NotationError:
        value = parse(re.sub(r"^([\d.]+(?:[eE][-+]?\d+)?[a-zA-Z]?).*$", r"\1", typed), unit).value
    return value


def _farad(text: str) -> float:
    try:
        return _number(text, "F")
    except NotationError:
        return 0.0


def _part(item: Item, asked: list[str]) -> dict[str, Any]:
    unit = {"resistor": "ohm", "potentiometer": "ohm", "choke": "H"}.get(item.kind, "F")
    try:
        value = _number(item.value.partition(" ")[0] if item.kind == "choke" else item.value, unit)
    except NotationError as error:
        raise ValueError(f"{item.name}: its value '{item.value}' can't be read. {error}") from None
    shown = show(value, unit).replace("Ω", "").replace("F", "").replace("H", "").replace(" ", "").strip()
    if item.kind == "potentiometer":
        top, wiper, bottom = item.nodes
        if top == CHASSIS:
            top, bottom = bottom, top
        asked.append(f"{item.name}: taken as linear and half way up; say its taper and what the panel calls it")
        return {"kind": "potentiometer", "ohm": shown, "nodes": [top, wiper, bottom], "control": item.name.lower()}
    if item.kind == "choke":
        _, _, winding = item.value.partition(" ")
        if not winding:
            asked.append(f"{item.name}: its winding_ohm is taken as 100 ohms; measure it, unplugged and bled")
        return {"kind": "choke", "henry": value, "winding_ohm": winding or "100", "nodes": list(item.nodes)}
    if item.kind == "resistor":
        return {"kind": "resistor", "ohm": shown, "nodes": list(item.nodes)}
    kind = "electrolytic" if value >= 1e-6 else "capacitor"
    nodes = list(item.nodes) if item.nodes[0] != CHASSIS else [item.nodes[1], CHASSIS]
    return {"kind": kind, "farad": shown, "nodes": nodes}


class _Roles:
    """What each part does, by what stands at its ends."""

    def __init__(
        self,
        parts: Mapping[str, Mapping[str, Any]],
        tubes: Sequence[Section],
        feeds: set[str],
        output: OutputGiven | None,
    ) -> None:
        self.parts, self.tubes = parts, tubes
        self.at: dict[str, list[tuple[Section, str]]] = {}
        for tube in tubes:
            for electrode, node in tube.nodes.items():
                if node != CHASSIS:
                    self.at.setdefault(node, []).append((tube, electrode))
        self.primary = set(output.primary) - feeds if output else set[str]()
        self.supply = self._supply(feeds)
        self.output = output

    def _supply(self, feeds: set[str]) -> set[str]:
        """Filter nodes: a feed, and what a resistor or choke joins to one and a large capacitor to the chassis."""
        found, electrodes = (
            set(feeds),
            {node for node, ends in self.at.items() if {e for _, e in ends} & {"cathode", "grid"}},
        )
        large = {
            part["nodes"][0] for part in self.parts.values()
            if part["kind"] == "electrolytic" and part["nodes"][1] == CHASSIS and _farad(str(part["farad"])) >= FILTER_F
        } - electrodes  # fmt: skip
        while True:
            more = {
                node for part in self.parts.values() if part["kind"] in ("resistor", "choke")
                for node in part["nodes"] if node in large and found & set(part["nodes"])
            } - found  # fmt: skip
            if not more:
                return found
            found |= more

    def role(self, name: str) -> tuple[str, str]:
        """A part's role, and its stage: a tube's name, or 'supply'."""
        part = self.parts[name]
        nodes: list[str] = part["nodes"]
        ends = {electrode: tube for node in nodes for tube, electrode in self.at.get(node, ())}
        supplies, chassis = self.supply & set(nodes), CHASSIS in nodes
        tube = next((ends[e] for e in ("plate", "cathode", "grid", "screen") if e in ends), None)
        stage = tube.name if tube else "supply"
        if part["kind"] == "potentiometer":
            return "volume control", self._near(nodes)
        if part["kind"] in ("resistor", "choke"):
            if supplies == set(nodes):
                return "dropping resistor" if part["kind"] == "resistor" else "filter choke", "supply"
            if "plate" in ends and supplies:
                return "plate load", ends["plate"].name
            if "screen" in ends and supplies:
                return "screen resistor", ends["screen"].name
            if "cathode" in ends and chassis:
                sharing = [t for node in nodes for t, e in self.at.get(node, ()) if e == "cathode"]
                return ("shared cathode resistor" if len(sharing) > 1 else "cathode resistor"), ends["cathode"].name
            if chassis and set(nodes) & {"in", "input"}:
                return "input resistor", self._near(nodes)
            if "grid" in ends:
                return (
                    "grid leak" if chassis else "grid stopper" if self._only(nodes, ends["grid"]) else "grid leak"
                ), ends["grid"].name
            if chassis and supplies:
                return "bleeder resistor", "supply"
            if chassis and (stopped := self._behind_stopper(name)):
                return "grid leak", stopped
            return "resistor", stage if tube else self._near(nodes)
        if chassis and supplies:
            first = not any(self.role_is_first(other, name) for other in self.parts)
            return ("first filter capacitor" if first else "filter capacitor"), "supply"
        if "cathode" in ends and chassis:
            return "cathode bypass", ends["cathode"].name
        driver = next((t for node in nodes for t, e in self.at.get(node, ()) if e == "plate"), None)
        if driver is not None and not chassis:
            other = next((node for node in nodes if (driver, "plate") not in self.at.get(node, ())), nodes[1])
            return "coupling capacitor", self._near([other], driver.name)
        return "capacitor", stage if tube else self._near(nodes)

    def role_is_first(self, other: str, name: str) -> bool:
        """Whether another filter capacitor stands before this one in the file."""
        part, names = self.parts[other], list(self.parts)
        filters = part["kind"] == "electrolytic" and CHASSIS in part["nodes"] and bool(self.supply & set(part["nodes"]))
        return filters and names.index(other) < names.index(name)

    def _behind_stopper(self, name: str) -> str:
        """The tube whose grid stopper meets a resistor's end; '' if there is none."""
        own = set(self.parts[name]["nodes"]) - {CHASSIS}
        for other, part in self.parts.items():
            if other != name and part["kind"] == "resistor" and own & set(part["nodes"]):
                for tube in self.tubes:
                    if tube.nodes["grid"] in part["nodes"] and self._only(part["nodes"], tube):
                        return tube.name
        return ""

    def _only(self, nodes: Iterable[str], tube: Section) -> bool:
        grid = tube.nodes["grid"]
        return sum(grid in part["nodes"] for part in self.parts.values()) == 1 and grid in nodes

    def _near(self, nodes: Sequence[str], but: str = "") -> str:
        """The tube whose grid, or else any electrode, is reached first through parts from some nodes."""
        seen, edge = {CHASSIS, *self.supply}, [node for node in nodes if node != CHASSIS and node not in self.supply]
        while edge:
            for wanted in (("grid",), ("plate", "cathode", "screen")):
                for node in edge:
                    for tube, electrode in self.at.get(node, ()):
                        if electrode in wanted and tube.name != but:
                            return tube.name
            seen |= set(edge)
            edge = list(
                dict.fromkeys(
                    other for part in self.parts.values() if set(part["nodes"]) & set(edge)
                    for other in part["nodes"] if other not in seen
                )
            )  # fmt: skip
        return but or "supply"

    def stages(self) -> dict[str, dict[str, Any]]:
        """A stage for each tube section; what serves the supply in one of its own."""
        found: dict[str, dict[str, Any]] = {
            tube.name.lower(): {
                "title": f"{tube.name}, {tube.type}",
                "kind": self._kind(tube),
                "tubes": [tube.name],
                "parts": {},
            }
            for tube in self.tubes
        }
        found["supply"] = {"title": "Supply", "parts": {}}
        for name in self.parts:
            role, stage = self.role(name)
            found[stage.lower()]["parts"][name] = role
        return found

    def _kind(self, tube: Section) -> str:
        if "screen" in tube.nodes or tube.nodes["plate"] in self.primary:
            return "output"
        if tube.nodes["plate"] in self.supply:
            return "follower"
        shared = [other for other in self.tubes if other.nodes["cathode"] == tube.nodes["cathode"] != CHASSIS]
        if len(shared) == 2 and "screen" not in shared[0].nodes:
            return "inverter"
        return "preamp"

    def input(self) -> str:
        """Where the signal comes in: the far end of the first tube's grid stopper, or its grid."""
        if not self.tubes:
            return ""
        named = [node for part in self.parts.values() for node in part["nodes"] if node in ("in", "input")]
        if named:
            return str(named[0])
        return self.tubes[0].nodes["grid"] if self.tubes[0].nodes["grid"] != CHASSIS else ""

    def test_points(self) -> list[str]:
        order = (
            node
            for tube in self.tubes
            for key in ("plate", "cathode", "grid", "screen")
            if (node := tube.nodes.get(key))
        )
        return [node for node in dict.fromkeys([*order, *sorted(self.supply)]) if node != CHASSIS]


def written(found: Drawn) -> str:
    """The circuit file's text, what is asked for at its top."""
    body = yaml.safe_dump(dict(found.content), sort_keys=False, default_flow_style=None, width=120, allow_unicode=True)
    return "".join(f"# {line}\n" for line in found.asked) + body
