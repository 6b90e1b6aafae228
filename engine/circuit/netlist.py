"""Circuit files: what kb/amps/*.yaml can say, as frozen models.

The prose of these models is the manual of the file format: it becomes kb/schema/circuit.schema.json.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Discriminator, Field, Tag, WithJsonSchema, model_validator

from ..late import late

with late():
    from ..bench import notation

CHASSIS = "chassis"
# What one circuit may hold: over twice the largest shipped one. A ranking of so many parts takes some 1 GB.
MOST_PARTS, MOST_TUBES, MOST_SUPPLIES, MOST_STAGES, MOST_POINTS = 200, 40, 12, 60, 200
#: What schematics call the return.
_RETURN = frozenset({"gnd", "ground", "earth", "0", "0v"})


def _node(value: Any) -> Any:
    """A node as schematics write it: in capitals, with a dash, as a number; the return by any of its names."""
    if isinstance(value, bool) or not isinstance(value, (str, int)):
        return value
    name = str(value).strip().lower().replace("-", "_")
    return CHASSIS if name in _RETURN else f"n{name}" if name.isdigit() else name


Node = Annotated[str, BeforeValidator(_node), Field(pattern=r"^[a-z0-9_]+(\.[a-z0-9_]+)*$", max_length=40)]
Name = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_]*$", max_length=24)]
Line = Annotated[str, Field(min_length=1, max_length=300)]
SourceId = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]


def _notation(unit: str) -> Any:
    def read(value: Any) -> Any:
        if unit == "F" and isinstance(value, str):  # mfd is what old schematics print for a microfarad
            value = re.sub(r"(?i)\s*mfd$", "u", re.sub(r"(?i)\s*mmfd?$", "p", value.strip()))
        return notation.parse(str(value), unit).value if isinstance(value, (str, int, float)) else value

    return BeforeValidator(read)


_TRADE = WithJsonSchema({"type": ["string", "number"]})
Ohm = Annotated[float, _notation("ohm"), Field(gt=0), _TRADE]
Farad = Annotated[float, _notation("F"), Field(gt=0), _TRADE]
Henry = Annotated[float, _notation("H"), Field(gt=0), _TRADE]
Percent = Annotated[float, Field(ge=0, le=90)]
Volts = Annotated[float, _notation("V"), _TRADE]
Watts = Annotated[float, _notation("W"), Field(gt=0), _TRADE]
Rated = Annotated[float, Field(gt=0, le=1e6)]


def _as_text(value: Any) -> Any:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _rectifier(value: Any) -> Any:
    """Any solid-state rectifier is a silicon one, unless it says otherwise."""
    found = _as_text(value)
    return "silicon" if isinstance(found, str) and found.lower() in ("solid-state", "solid state", "diodes") else found


class Strict(BaseModel):
    """Frozen, and strict about its keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Resistor(Strict):
    """A resistor between two nodes."""

    kind: Literal["resistor"]
    ohm: Ohm = Field(description="Value in trade notation: 100k, 1k5, 470.")
    nodes: tuple[Node, Node]
    tolerance_percent: Percent = 10.0
    rating_W: Watts = Field(default=0.5, description="Power rating.")
    quiet: tuple[str, ...] = Field(default=(), description="Lints switched off for this part.")


class Capacitor(Strict):
    """A capacitor between two nodes; the first node is the positive one of an electrolytic."""

    kind: Literal["capacitor", "electrolytic"]
    farad: Farad = Field(description="Value in trade notation: 22n, 0.022u, 25u.")
    nodes: tuple[Node, Node]
    tolerance_percent: Percent = 20.0
    rating_V: Volts | None = Field(default=None, description="Rated working volts.")
    quiet: tuple[str, ...] = ()


class Choke(Strict):
    """A filter choke: inductance and the resistance of its winding."""

    kind: Literal["choke"]
    henry: Henry
    winding_ohm: Ohm
    nodes: tuple[Node, Node]
    tolerance_percent: Percent = 10.0
    rating_mA: Rated | None = None
    quiet: tuple[str, ...] = ()


class Potentiometer(Strict):
    """A control. Nodes: the end it turns up to, the wiper, the end it turns down to."""

    kind: Literal["potentiometer"]
    ohm: Ohm
    nodes: tuple[Node, Node, Node]
    taper: Literal["linear", "audio", "reverse audio"] = "linear"
    control: Line = Field(description="What the panel calls it.")
    rotation: float = Field(default=5.0, ge=0, le=10, description="Where it is set for the figures shown, 0 to 10.")
    tolerance_percent: Percent = 20.0
    quiet: tuple[str, ...] = ()


PART_KINDS = ("resistor", "capacitor", "electrolytic", "choke", "potentiometer")
Part = Annotated[Resistor | Capacitor | Choke | Potentiometer, Field(discriminator="kind")]


class TubeInCircuit(Strict):
    """One section of a tube. `screen` only for pentodes and beam tubes."""

    type: Annotated[str, BeforeValidator(_as_text), Field(min_length=2, max_length=24)]
    grid: Node
    plate: Node
    cathode: Node
    screen: Node | None = None
    heater: Node = Field(default=CHASSIS, description="Node the heater winding is referred to.")
    quiet: tuple[str, ...] = ()


class Supply(Strict):
    """A rectifier supply: open-circuit volts behind a resistance, a rectifier, the first filter capacitor."""

    node: Node = Field(description="Node of the first filter capacitor, or after the input choke.")
    rectifier: Annotated[str, BeforeValidator(_rectifier)] = Field(
        description="Rectifier tube type, or silicon, or selenium."
    )
    connection: Literal["full wave", "bridge", "half wave"] = "full wave"
    secondary_V: Volts = Field(gt=0, description="Open-circuit RMS volts, each side of the center tap.")
    source_ohm: Ohm = Field(description="Resistance per side: winding, reflected primary, any series resistor.")
    series: Name | None = Field(
        default=None, description="A resistor of this file that stands between winding and rectifier, counted extra."
    )
    reservoir: Name = Field(description="The first filter capacitor.")
    input_choke: Name | None = Field(default=None, description="A choke before the reservoir (choke input).")
    polarity: Literal["positive", "negative"] = "positive"
    alternatives: tuple[str, ...] = Field(default=(), max_length=20, description="Rectifiers that also fit the socket.")
    heater_winding_A: Rated | None = Field(default=None, description="What the rectifier's heater winding gives.")


class FixedSupply(Strict):
    """A supply known by its volts alone, as in a published circuit."""

    node: Node
    volts: Volts
    source_ohm: Ohm = 1.0


def _kind_of_supply(value: Any) -> str:
    if isinstance(value, FixedSupply):
        return "fixed"
    return "fixed" if isinstance(value, dict) and "volts" in value and "rectifier" not in value else "rectified"


SUPPLY_KINDS = ("rectified", "fixed")
AnySupply = Annotated[
    Annotated[Supply, Tag("rectified")] | Annotated[FixedSupply, Tag("fixed")], Discriminator(_kind_of_supply)
]


class OutputTransformer(Strict):
    """Output transformer and load. Primary nodes: plate, B+ (single-ended) or plate, B+, plate (push-pull)."""

    primary: tuple[Node, Node] | tuple[Node, Node, Node]
    primary_ohm: Ohm = Field(description="Impedance at the load given, plate to plate in push-pull.")
    winding_ohm: tuple[Ohm, ...] = Field(
        min_length=1, max_length=2, description="DC resistance of each half (or of the whole)."
    )
    primary_henry: Henry = 10.0
    secondary: Node = "speaker"
    load_ohm: Ohm = 8.0


StageKind = Literal[
    "preamp", "follower", "reverb drive", "reverb recovery", "tremolo", "inverter", "output", "bias", "supply"
]  # fmt: skip


class Stage(Strict):
    """Which parts make up a stage, each with its role. At most one fault a stage is assumed."""

    title: Line
    kind: StageKind | None = Field(default=None, description="What the stage does.")
    tubes: tuple[Name, ...] = ()
    parts: Mapping[Name, Line] = Field(default={}, description="Designator and role: R3: plate load.")
    supplies: tuple[Name, ...] = ()
    output_transformer: bool = False


class Normal(Strict):
    """A claim that a healthy figure is normal, and who says so."""

    of: Line = Field(description="A test point, or TUBE plate_mA, TUBE plate_W, TUBE plate_V, TUBE screen_V.")
    low: float = Field(allow_inf_nan=False)
    high: float = Field(allow_inf_nan=False)
    source: SourceId
    note: str = ""


class Mains(Strict):
    volts: Volts = Field(default=120.0, ge=50, le=500)
    Hz: float = Field(default=60.0, ge=10, le=500)
    tolerance_percent: Percent = 3.0


class Circuit(Strict):
    """A circuit file: parts, tubes, supplies, stages and test points of one amplifier."""

    title: Line
    summary: Annotated[str, Field(min_length=1, max_length=2000)]
    fits: Mapping[str, str | int | bool] = Field(
        default={}, description="Amp facts this circuit is typical of, for choosing the nearest archetype."
    )
    mains: Mains = Mains()
    supplies: Mapping[Name, AnySupply] = Field(max_length=MOST_SUPPLIES)
    parts: Mapping[Name, Part] = Field(max_length=MOST_PARTS)
    tubes: Mapping[Name, TubeInCircuit] = Field(max_length=MOST_TUBES)
    output: OutputTransformer | None = None
    stages: Mapping[Name, Stage] = Field(max_length=MOST_STAGES)
    test_points: tuple[Node, ...] = Field(min_length=1, max_length=MOST_POINTS)
    printed: Mapping[Node, Volts] = Field(
        default={},
        max_length=MOST_POINTS,
        description="Volts that the schematic prints, or that were read when the amp was good, by test point: they "
        "calibrate what is expected.",
    )
    normal: tuple[Normal, ...] = Field(default=(), max_length=MOST_POINTS)
    input: Node | None = Field(default=None, description="Where the signal comes in, for gains.")

    @model_validator(mode="after")
    def _supply_parts(self) -> Circuit:
        for name, supply in self.supplies.items():
            if not isinstance(supply, Supply):
                continue
            wanted = {"reservoir": ("capacitor", "electrolytic"), "input_choke": ("choke",), "series": ("resistor",)}
            for role, kinds in wanted.items():
                part = getattr(supply, role)
                if part is not None and (part not in self.parts or self.parts[part].kind not in kinds):
                    raise ValueError(
                        f"supply {name}: its {role.replace('_', ' ')}: there is no {kinds[-1]} '{part}' in this file"
                    )
        return self

    @model_validator(mode="after")
    def _printed_points(self) -> Circuit:
        for point in self.printed:
            if point not in self.test_points:
                raise ValueError(f"printed: '{point}' is not a test point of this file")
        return self

    def nodes(self) -> tuple[str, ...]:
        """Every node but the chassis, in order of first mention."""
        found: dict[str, None] = {}
        inside = self.inside_supplies()
        for name, part in self.parts.items():
            if name not in inside:
                found.update(dict.fromkeys(part.nodes))
        for tube in self.tubes.values():
            found.update(dict.fromkeys(n for n in (tube.grid, tube.plate, tube.screen, tube.cathode, tube.heater) if n))
        for supply in self.supplies.values():
            found[supply.node] = None
        if self.output:
            found.update(dict.fromkeys((*self.output.primary, self.output.secondary)))
        found.pop(CHASSIS, None)
        return tuple(found)

    def inside_supplies(self) -> frozenset[str]:
        """Parts that stand before a supply's node and act through the supply's regulation curve alone."""
        supplies = [supply for supply in self.supplies.values() if isinstance(supply, Supply)]
        return frozenset(name for s in supplies for name in (s.series, s.input_choke) if name)

    def stage_of(self) -> dict[str, str]:
        """Stage of each part, tube and supply; `output` for the output transformer."""
        found: dict[str, str] = {}
        for name, stage in self.stages.items():
            found.update(dict.fromkeys((*stage.parts, *stage.tubes, *stage.supplies), name))
            if stage.output_transformer:
                found["output_transformer"] = name
        return found
