"""What a schematic editor or a simulator has of an amp: parts, tubes and sources between nodes, from a SPICE netlist or
a KiCad netlist (the open schematic editor's own export). Roles and stages are another matter: see inferred.py."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..folders import plain_bytes
from .netlist import CHASSIS

MOST_BYTES = 2_000_000  # of a netlist
GROUND = frozenset({"0", "gnd", "ground", "earth", "chassis", "gnda", "agnd", "vss"})
#: Names of pins, by electrode.
PINS = {
    "plate": {"p", "a", "plate", "anode", "a1", "a2", "p1", "p2"},
    "grid": {"g", "g1", "grid", "grid1", "ga", "gb"},
    "cathode": {"k", "c", "cathode", "k1", "k2", "kg3", "g3k"},
    "screen": {"g2", "s", "screen", "grid2", "sg"},
}
#: The order in which a subcircuit without a definition is taken to name its electrodes (common in tube libraries).
USUAL = {3: ("plate", "grid", "cathode"), 4: ("plate", "screen", "grid", "cathode")}


@dataclass(frozen=True)
class Item:
    """One two- or three-ended part: kind as in a circuit file, its value as it was written."""

    name: str
    kind: str
    value: str
    nodes: tuple[str, ...]


@dataclass(frozen=True)
class Section:
    """One section of a tube."""

    name: str
    type: str
    nodes: Mapping[str, str]


@dataclass(frozen=True)
class Schematic:
    """sources: volts by node to the chassis. left_out: what was not understood, with why."""

    items: tuple[Item, ...]
    tubes: tuple[Section, ...]
    sources: Mapping[str, float]
    left_out: tuple[str, ...] = ()


@dataclass
class _Found:
    items: list[Item] = field(default_factory=list)
    tubes: list[Section] = field(default_factory=list)
    sources: dict[str, float] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)

    def done(self) -> Schematic:
        return Schematic(tuple(self.items), tuple(self.tubes), dict(self.sources), tuple(self.left_out))


def read(path: Path) -> Schematic:
    """A netlist file of either kind. Raises ValueError, in words, for a file that is neither; OSError."""
    text = plain_bytes(path, MOST_BYTES).decode(errors="replace")
    return kicad(text) if text.lstrip().startswith("(") else spice(text)


def node_name(name: str) -> str:
    """A net's name as a circuit file has it: lower case, the chassis by its name, a bare number as n3."""
    bare = name.strip().strip("/").lower()
    if bare in GROUND:
        return CHASSIS
    bare = re.sub(r"[^a-z0-9_.]+", "_", bare.replace("+", "plus")).strip("_.")
    bare = re.sub(r"\.+", ".", bare)[:36]
    return f"n{bare}" if not bare or bare[0].isdigit() else bare


def part_name(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9_]", "_", name)[:24]


# --- SPICE


def spice(text: str) -> Schematic:
    """A SPICE netlist. Its first line is its title. Raises ValueError when it has no parts."""
    lines = _joined(text)
    pins = {words[1].upper(): [word.lower() for word in words[2:] if "=" not in word] for words in _defined(lines)}
    found, inside = _Found(), False
    for line in lines[1:]:
        words = line.split()
        head = words[0].lower()
        if head.startswith("."):
            inside = (inside or head == ".subckt") and head != ".ends"
            if head == ".end":
                break
        elif not inside and not head.startswith("*"):
            _spice_line(found, words, pins)
    if not found.items:
        raise ValueError("no parts were found: a SPICE netlist has a title, then lines such as 'R1 plate bplus 100k'")
    return found.done()


def _joined(text: str) -> list[str]:
    lines: list[str] = []
    for raw in text.splitlines():
        line = re.split(r"[;$]", raw)[0].rstrip()
        if line.startswith("+") and lines:
            lines[-1] += " " + line[1:]
        elif line.strip() or not lines:
            lines.append(line.strip())
    return [line for index, line in enumerate(lines) if line or index == 0]


def _defined(lines: list[str]) -> Iterator[list[str]]:
    for line in lines:
        words = line.split()
        if words and words[0].lower() == ".subckt":
            yield words


def _spice_line(found: _Found, words: list[str], pins: Mapping[str, list[str]]) -> None:
    name, letter = part_name(words[0]), words[0][0].upper()
    if letter in "RCL" and len(words) >= 4:
        kind = {"R": "resistor", "C": "capacitor", "L": "choke"}[letter]
        apart = len(words) > 4 and re.fullmatch(r"(?i)m?mfd?|[munpµ]?f|[mk]?ohms?", words[4])
        found.items.append(
            Item(name, kind, words[3] + (words[4] if apart else ""), (node_name(words[1]), node_name(words[2])))
        )
    elif letter == "X" and len(words) >= 5:
        *nodes, kind = [word for word in words[1:] if "=" not in word and word.lower() != "params:"]
        order = [_electrode(pin) for pin in pins.get(kind.upper(), ())]
        order = order if len(order) == len(nodes) and all(order) else list(USUAL.get(len(nodes), ()))
        if len(order) != len(nodes):
            found.left_out.append(f"{name} ({kind}): {len(nodes)} pins whose electrodes are not known")
            return
        plain = name[1:] if len(name) > 1 and not name[1].isdigit() else f"V{name[1:]}"
        joined = dict(zip(order, map(node_name, nodes), strict=True))
        found.tubes.append(Section(plain, _type(kind), {str(k): v for k, v in joined.items()}))
    elif letter == "V" and len(words) >= 4:
        volts = next((w for w in words[3:] if re.match(r"^[-+]?[\d.]", w)), "")
        one, other = node_name(words[1]), node_name(words[2])
        if volts and CHASSIS in (one, other) and "sin" not in " ".join(words[3:]).lower():
            value = float(re.sub(r"[vV]$", "", volts))
            if value:
                found.sources[other if one == CHASSIS else one] = -value if one == CHASSIS else value
        elif "sin" not in " ".join(words[3:]).lower():
            found.left_out.append(f"{name}: a source that is not between a node and the chassis")
    else:
        found.left_out.append(f"{name}: not a resistor, capacitor, inductor, tube or DC source")


def _electrode(pin: str) -> str:
    return next((electrode for electrode, names in PINS.items() if pin.lower() in names), "")


def _type(kind: str) -> str:
    """A tube's type without what libraries add to it."""
    return re.split(r"[_\-. ]", kind.strip().upper())[0].replace("ECC83", "12AX7").replace("ECC81", "12AT7").replace(
        "ECC82", "12AU7"
    )  # fmt: skip


# --- KiCad


def kicad(text: str) -> Schematic:
    """A KiCad netlist (an S-expression that begins with `(export`). Raises ValueError when it is none."""
    tree = _tree(text)
    if not tree or tree[0] != "export":
        raise ValueError("not a KiCad netlist: it begins with (export ...; export it as 'KiCad', not as a board file")
    components = {str(_one(comp, "ref")): comp for comp in _all(_sub(tree, "components"), "comp")}
    parts = {
        (str(_one(part, "lib")), str(_one(part, "part"))): part for part in _all(_sub(tree, "libparts"), "libpart")
    }
    nets: dict[str, dict[str, str]] = {}
    functions: dict[tuple[str, str], str] = {}
    for net in _all(_sub(tree, "nets"), "net"):
        for node in _all(net, "node"):
            ref, pin = str(_one(node, "ref")), str(_one(node, "pin"))
            nets.setdefault(ref, {})[pin] = node_name(str(_one(net, "name")))
            functions[ref, pin] = str(_one(node, "pinfunction") or "")
    found = _Found()
    for ref, comp in components.items():
        source = _sub(comp, "libsource")
        libpart = parts.get((str(_one(source, "lib")), str(_one(source, "part"))), [])
        names = {str(_one(pin, "num")): str(_one(pin, "name")) for pin in _all(_sub(libpart, "pins"), "pin")}
        names = {pin: names.get(pin) or functions[ref, pin].split("_")[0] for pin in nets.get(ref, {})}
        _kicad_part(found, ref, str(_one(comp, "value") or ""), nets.get(ref, {}), names)
    if not found.items:
        raise ValueError("no parts were found in this KiCad netlist")
    return found.done()


def _kicad_part(found: _Found, ref: str, value: str, nets: Mapping[str, str], names: Mapping[str, str]) -> None:
    letters = re.match(r"[A-Za-z]*", ref)
    head = letters.group().upper() if letters else ""
    name, nodes = part_name(ref), tuple(nets[pin] for pin in sorted(nets, key=_by_number))
    kinds = {
        "R": "resistor",
        "C": "capacitor",
        "CP": "electrolytic",
        "L": "choke",
        "RV": "potentiometer",
        "P": "potentiometer",
    }
    if head in ("V", "U", "VT") and any(_electrode(one) for one in names.values()):
        sections: list[dict[str, str]] = [{}]
        for pin in sorted(nets, key=_by_number):
            electrode = _electrode(names[pin])
            if electrode:
                if electrode in sections[-1]:
                    sections.append({})
                sections[-1][electrode] = nets[pin]
        for index, section in enumerate(sections):
            suffix = "ab"[index] if len(sections) == 2 else ""
            found.tubes.append(Section(name + suffix, _type(value), section))
    elif head in kinds and len(nodes) == (3 if kinds[head] == "potentiometer" else 2):
        found.items.append(Item(name, kinds[head], value, nodes))
    elif (
        head in ("V", "VS", "BT") and len(nodes) == 2 and CHASSIS in nodes and (volts := re.search(r"-?[\d.]+", value))
    ):
        found.sources[next(node for node in nodes if node != CHASSIS)] = float(volts.group())
    else:
        found.left_out.append(f"{ref} ({value or 'no value'}): not a part that carries the signal or the supply's DC")


def _by_number(pin: str) -> tuple[int, str]:
    return (int(pin), "") if pin.isdigit() else (10**6, pin)


def _tree(text: str) -> list[Any]:
    """An S-expression as nested lists."""
    stack: list[list[Any]] = [[]]
    for token in re.finditer(r'"((?:[^"\\]|\\.)*)"|([()])|([^\s()"]+)', text):
        if token[2] == "(":
            stack.append([])
        elif token[2] == ")":
            if len(stack) < 2:
                raise ValueError("not a KiCad netlist: a parenthesis is closed that was never opened")
            done = stack.pop()
            stack[-1].append(done)
        else:
            stack[-1].append(token[1] if token[1] is not None else token[3])
    return stack[0][0] if stack[0] and isinstance(stack[0][0], list) else []


def _all(tree: list[Any], head: str) -> list[list[Any]]:
    return [one for one in tree if isinstance(one, list) and one and one[0] == head]


def _sub(tree: list[Any], head: str) -> list[Any]:
    return next(iter(_all(tree, head)), [])


def _one(tree: list[Any], head: str) -> str | None:
    found = _sub(tree, head)
    return str(found[1]) if len(found) > 1 else None
