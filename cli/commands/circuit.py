"""`chopstick circuit`: what the voltages should be, and which fault the readings point to, by computation."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.caution import STANDING
from ...engine.folders import plain_bytes
from ...engine.late import late
from .. import endings, exits
from ..desk import Json
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.circuit.chart import Chart, Signals
    from ...engine.circuit.dictionary import Dictionary
    from ...engine.circuit.expected import Meter
    from ...engine.circuit.files import CircuitFile
    from ...engine.circuit.netlist import Circuit
    from ...engine.circuit.rank import FaultRanking
    from ...engine.circuit.readings import Readings
    from ...engine.reports.circuit import RankedReadings

with late():
    import dataclasses

    from ...engine.bench import notation
    from ...engine.circuit import chart as circuit_chart
    from ...engine.circuit import (
        collection,
        dictionary_files,
        expected,
        files,
        inferred,
        network,
        quantities,
        schematic,
        solve,
        spice_netlist,
    )  # fmt: skip
    from ...engine.circuit import rank as circuit_rank
    from ...engine.circuit import readings as circuit_readings
    from ...engine.circuit import response as circuit_response
    from ...engine.reference import errors, text
    from ...engine.reports import circuit
    from .. import knowledge_in_force, written

#: A first ranking of so few readings is not worth solving every two faults for.
FEW_READINGS = 3

circuit_app = typer.Typer(
    add_completion=False, rich_markup_mode=None, no_args_is_help=True,
    help="Say what the voltages should be, and which fault they show.",
)  # fmt: skip
app = circuit_app
File = Annotated[
    str, typer.Argument(metavar="FILE", help="A circuit file, or the name of a shipped one (see `circuit new`).")
]
MeterOption = Annotated[
    str,
    typer.Option("--meter", help="Input resistance of the meter: 10M, 1M; or 20k/V:500 for ohms per volt on a range."),
]


@contextmanager
def _told() -> Iterator[None]:
    """Turns every expected error into a message on standard error and the exit code for bad input."""
    try:
        yield
    except errors.KnowledgeError as error:
        Screen().trouble(error)
        raise typer.Exit(exits.PROBLEMS) from None
    except OSError as error:
        said = str(error) if error.errno is None else endings.in_a_sentence(error)
        Screen().trouble(f"chopstick circuit: {said}")
        raise typer.Exit(exits.INPUT) from None
    except (collection.UnknownCircuit, ArithmeticError, ValueError) as error:
        if isinstance(error, inferred.NoSupply):
            Screen().trouble(f"chopstick circuit: {error}, as in --supply bplus_1=310")
            raise typer.Exit(exits.INPUT) from None
        Screen().trouble(f"chopstick circuit: {error}")
        raise typer.Exit(exits.INPUT) from None
    except KeyError as error:
        Screen().trouble(f"chopstick circuit: {error.args[0]}")
        raise typer.Exit(exits.INPUT) from None


def _load(name: str) -> CircuitFile:
    """A circuit by file or name; what looks like a slip in a file of one's own is told on standard error."""
    path = Path(name)
    if path.suffix in (".yaml", ".yml") or path.exists():
        found = files.load_circuit(path)
        for problem in found.warnings:
            Screen().trouble(str(problem))
        return found
    return collection.Circuits(None, knowledge_in_force.layers(None)).find(name)


def _meter(text: str) -> Meter:
    ohms, per_volt, full_scale = text.partition("/V")
    if per_volt:
        return expected.Meter.moving_coil(
            notation.parse(ohms, "ohm").value, notation.parse(full_scale.lstrip(":") or "500", "V").value
        )
    return expected.Meter(notation.parse(text, "ohm").value)


def _changes(words: list[str]) -> dict[str, str]:
    changes: dict[str, str] = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals:
            raise ValueError(f"'{word}' is not NAME=VALUE, as in R17=47k, main=5AR4 or mains=125")
        changes[name] = value
    return changes


@circuit_app.command()
def volts(
    file: File,
    fault: Annotated[str, typer.Option("--fault", help="Put in one fault, as in R3.open or V1a.weak.")] = "",
    change: Annotated[
        list[str] | None,
        typer.Option("--change", metavar="NAME=VALUE", help="Change a part, tube, rectifier or the mains: R17=47k."),
    ] = None,
    meter: MeterOption = "10M",
    plot: Annotated[bool, typer.Option("--plot", help="Draw the bands beside the figures.")] = False,
    signals: Annotated[
        bool, typer.Option("--signals", help="Show what AC reads too: signal levels, gains, ripple, hum.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Print the voltage chart of a circuit.

    As a meter would read it; with a fault or a change, next to the good one.

    \b
    chopstick circuit volts fixed-bias-2x6v6gt-split-load
    chopstick circuit volts fixed-bias-2x6v6gt-split-load --signals --fault C3.open
    chopstick circuit volts fixed-bias-2x6v6gt-split-load --fault R3.open
    chopstick circuit volts fixed-bias-2x6v6gt-split-load --change main=5AR4 --change R17=47k
    """
    with _told():
        loaded, taken = _load(file), _meter(meter)
        changes = _changes(list(change or ()))
        sound = circuit_chart.chart(loaded.circuit, taken)
        other = None
        heard: tuple[Signals, Signals | None] | None = None
        if signals or as_json:
            heard = circuit_chart.signals(loaded.circuit), None
        if fault or changes:
            changed = circuit_chart.changed(loaded.circuit, changes) if changes else loaded.circuit
            other = circuit_chart.chart(changed, taken, fault)
            if heard:
                heard = heard[0], circuit_chart.signals(changed, fault, loaded.circuit)
    if as_json and heard:
        Screen().json(circuit.voltage_chart(loaded, sound, other, fault, changes, heard))
        return
    _chart_text(loaded, sound, other, plot)
    if heard:
        _signals_text(*heard)


def _signals_text(sound: Signals, other: Signals | None) -> None:
    screen = Screen()
    screen.heading("Signals")
    screen.line(
        f"Levels: a sine of {notation.show(sound.driven_V, 'V')} RMS from a generator at the input, the controls as "
        "the circuit file has them, reverb and tremolo off, a dummy load. Ripple and hum: no signal, the input "
        "shorted. A gain: the generator at that tube's grid. All in AC volts RMS."
    )
    screen.line(
        "CAUTION: put a blocking capacitor (100 nF, 630 V) between instrument and any plate, grid or supply node, "
        "with 1 megohm to the chassis behind it; clip it on with the power off and the capacitors below 50 V. "
        "Without it the B+ goes into the instrument, and into you."
    )
    rows = [["reading", "good", "band", *(["changed"] if other else [])]]
    for k, row in enumerate(sound.rows):
        good, low, high = (quantities.in_words(one, row.unit) for one in (row.reading, row.low, row.high))
        changed = [quantities.in_words(other.rows[k].reading, row.unit)] if other else []
        rows.append([row.name, good, f"{low} to {high}", *changed])
    screen.table(rows)


def _chart_text(loaded: CircuitFile, sound: Chart, other: Chart | None, plot: bool) -> None:
    screen = Screen()
    screen.line(loaded.circuit.title, "bold")
    screen.line(f"CAUTION: {STANDING}")
    screen.line()
    head = ["test point", "V", "band", *(["changed"] if other else []), *(["from 0 V up"] if plot else [])]
    rows: list[list[str]] = [head]
    top = max(abs(row.volts) for row in (*sound.rows, *(other.rows if other else ()))) or 1.0
    for index, row in enumerate(sound.rows):
        cells = [row.point, f"{row.volts:z.1f}", f"{row.low_V:z.1f} to {row.high_V:z.1f}"]
        if other:
            cells.append(f"{other.rows[index].volts:z.1f}")
        if plot:
            cells.append(_bar(row.low_V, row.high_V, other.rows[index].volts if other else None, top))
        rows.append(cells)
    screen.table(rows)
    shown = other or sound
    screen.heading("Supply" if not other else "Supply, changed")
    for name, figures in shown.supplies.items():
        screen.line(
            f"{name}: {figures['output_V']:.1f} V at {figures['output_mA']:.1f} mA, "
            f"ripple {figures['ripple_V']:.2f} V peak to peak, rectifier peak {figures['peak_plate_mA']:.0f} mA"
        )
    over = [limit for limit in shown.limits if limit.over]
    screen.heading("Over a published limit" if over else "No published limit is broken")
    screen.table(
        [
            each.of,
            notation.show(each.value, each.unit),
            f"limit {notation.show(each.limit, each.unit)}",
            f"{each.system}, {each.source}{'' if each.seen else ' (from memory)'}",
        ]
        for each in over
    )


def _bar(low: float, high: float, other: float | None, top: float, width: int = 20) -> str:
    """A band drawn in characters, = for the good band and * for the changed reading."""
    cells = [" "] * (width + 1)
    first, last = (min(width, round(abs(v) / top * width)) for v in (low, high))
    for k in range(min(first, last), max(first, last) + 1):
        cells[k] = "="
    if other is not None:
        cells[min(width, round(abs(other) / top * width))] = "*"
    return "|" + "".join(cells).rstrip()


@circuit_app.command()
def rank(
    file: File,
    readings: Annotated[
        list[Path],
        typer.Option("--readings", metavar="READINGS.yaml", help="A file of readings (test point: volts); may repeat."),
    ],
    meter: MeterOption = "10M",
    most: Annotated[int, typer.Option("--most", min=1, max=50, help="How many faults to list.")] = 8,
    as_json: Json = False,
) -> None:
    """Rank the faults of a circuit by readings.

    One ranking per readings file, with no prompts.

    \b
    chopstick circuit rank fixed-bias-2x6v6gt-split-load --readings first.yaml --readings second.yaml --json
    A readings file is a mapping, volts in trade notation:
      v1a.plate: 288
      bias_feed: -38V
      v1b.plate at 1kHz: 2.7V     driven as circuit volts --signals says
      bplus_2 ripple: 0.4V
      across R15: 17.2V           or: v1a.plate to v1b.plate,
                                  through R15, ohms across R3
    or {meter_ohm: 10M, mains_V: 121, readings: {v1a.plate: 288}}.
    """
    with _told():
        loaded, taken = _load(file), _meter(meter)
        all_read = [circuit_readings.load_readings(path, loaded.circuit) for path in readings]
        built: dict[tuple[float, float], Dictionary] = {}
        told: list[tuple[Readings, FaultRanking, Dictionary]] = []
        for one in all_read:
            key = (one.meter_ohm or taken.ohm, one.mains_V or loaded.circuit.mains.volts)
            if key not in built:
                built[key] = dictionary_files.dictionary(
                    _at_mains(loaded, key[1]), _with_ohm(taken, key[0]), pairs=len(one.values) > FEW_READINGS
                )
            told.append((one, circuit_rank.rank(built[key], one.values), built[key]))
    made = circuit.ranking_of_circuit(loaded, told, most)
    screen = Screen()
    if as_json:
        screen.json(made)
        return
    screen.line(f"CAUTION: {made.caution}")
    for result in made.results:
        _rank_text(screen, result, {name: told[0][2].quantity(name).unit for name in result.readings})


def _at_mains(loaded: CircuitFile, mains_V: float) -> Circuit:
    return (
        loaded.circuit
        if mains_V == loaded.circuit.mains.volts
        else circuit_chart.changed(loaded.circuit, {"mains": str(mains_V)})
    )


def _with_ohm(meter: Meter, ohm: float) -> Meter:
    return dataclasses.replace(meter, ohm=ohm)


def _rank_text(screen: Screen, told: RankedReadings, units: Mapping[str, str]) -> None:
    screen.heading(told.file)
    if not told.explained:
        screen.line(
            "No fault, nor two or three of different stages, explains these readings: check the readings, the meter's "
            "ground and that the circuit file is this amp's."
        )
        screen.line("What comes nearest, each by itself, and the reading to take again:")
        screen.table(
            [n.fault, f"{n.text}{'' if n.severity in n.text else ' (' + n.severity + ')'}", f"again at {n.read_again}"]
            for n in told.nearest[:3]
        )
    if told.unread:
        screen.line(f"Nothing that was read shows a fault ({told.healthy:.0%}); that is too early for 'nothing wrong'.")
        screen.line("Not read yet, and what it would show:")
        screen.table([one.reading, ", ".join(one.faults[:4])] for one in told.unread[:4])
    else:
        screen.line(f"Nothing wrong: {told.healthy:.0%}.")
    screen.table(
        [f"{f.probability:.0%}", f.fault, f"{f.text}{'' if f.severity in f.text else ' (' + f.severity + ')'}"]
        for f in told.faults
    )
    if told.faults and told.faults[0].probability > 0.05:
        first = told.faults[0]
        screen.line()
        screen.line(f"Read and predicted with {first.fault}:")
        screen.table(
            [name, *(quantities.in_words(one, units[name]) for one in (value, first.predicted[name]))]
            for name, value in told.readings.items()
        )
        if len(first.same_readings) > 1:
            screen.line(f"The same readings: {', '.join(first.same_readings)}. To tell them apart:")
            screen.bullets(first.checks, indent=2)
    if told.next_points and told.next_points[0].bits > 0.01:
        worth = told.next_points[0]
        screen.line(f"The most telling reading to take next: {worth.point} ({worth.bits:.1f} bits).")


@circuit_app.command()
def lows(
    file: File,
    to: Annotated[str, typer.Option("--to", help="Node where the level counts.")] = "speaker",
    corner: Annotated[float, typer.Option("--corner", help="Where each corner is wanted, in Hz.")] = 40.0,
) -> None:
    """Say what each capacitor does to the lows.

    Its loss at 41, 82, 110 and 400 Hz, its corner, and the preferred value that would put the corner where it is
    wanted.

    \b
    chopstick circuit lows fixed-bias-2x6v6gt-split-load --corner 60
    """
    with _told():
        loaded = _load(file)
        if not loaded.circuit.input:
            raise ValueError(f"{loaded.name} names no input node")
        response = circuit_response.Response(solve.Solver(network.compile_circuit(loaded.circuit)).healthy)
        effects = circuit_response.capacitor_effects(response, loaded.circuit.input, to)
        wanted = [circuit_response.capacitor_for_corner(response, effect.name, corner) for effect in effects]
    screen = Screen()
    screen.line(f"{loaded.circuit.title}: {loaded.circuit.input} to {to}", "bold")
    rows = [["part", "value", *(f"{hz:g} Hz" for hz in circuit_response.PROBE_Hz), "corner", f"for {corner:g} Hz"]]
    for effect, farad in zip(effects, wanted, strict=True):
        losses = [f"{loss:.1f} dB" for loss in effect.loss_dB]
        rows.append(
            [
                effect.name,
                notation.show(effect.farad, "F"),
                *losses,
                f"{effect.corner_Hz:.1f} Hz",
                notation.show(farad, "F"),
            ]
        )
    screen.table(rows)


@circuit_app.command()
def new(
    archetype: Annotated[str, typer.Argument(help="A shipped circuit to start from; with none, they are listed.")] = "",
    out: Annotated[Path | None, typer.Option("--out", help="Write to a file instead of the screen.")] = None,
) -> None:
    """Write a commented starter file.

    From a shipped circuit, to be made into the circuit of the amp at hand.

    \b
    chopstick circuit new fixed-bias-2x6v6gt-split-load --out our-amp.yaml
    """
    with _told():
        if not archetype:
            Screen().pairs((name, files.load_archetype(name).circuit.title) for name in files.archetypes())
            return
        there = plain_bytes(files.find(archetype), text.MOST_CHARACTERS).decode()
        starter = STARTER + there.partition("\n")[2]
        if out is None:
            sys.stdout.write(starter)
            return
        if out.exists():
            raise FileNotFoundError(f"{out} is there already; name another file")
        written.write(out, starter.encode(), over=False)
    Screen().line(f"Written to {out}. Try it: chopstick circuit volts {out}")


@circuit_app.command(name="from")
def from_netlist(
    file: Annotated[Path, typer.Argument(metavar="NETLIST", help="A SPICE netlist, or a KiCad netlist.")],
    supply: Annotated[
        list[str] | None,
        typer.Option(
            "--supply", metavar="NODE=VOLTS", help="Where the B+ (or bias) is fed, if the netlist has no source."
        ),
    ] = None,
    output: Annotated[
        str,
        typer.Option(
            "--output", metavar="'PLATE B+ PLATE 8k'", help="The output transformer: its nodes and impedance."
        ),
    ] = "",
    out: Annotated[Path | None, typer.Option("--out", help="Write to a file instead of the screen.")] = None,
) -> None:
    """Make a circuit file from a schematic editor's netlist.

    Parts, values, nodes and tubes are taken over; plate loads, cathode resistors, coupling capacitors and stages are
    told from how they are joined. What a netlist can't say is asked for at the top of the file.

    \b
    chopstick circuit from amp.net --supply bplus_1=310 --output 'v3.plate bplus_1 v4.plate 8k' --out our-amp.yaml
    """
    with _told():
        told = inferred.OutputGiven(*_output(output)) if output else None
        supplies = {node: float(volts.rstrip("vV")) for node, volts in _changes(list(supply or ())).items()}
        found = inferred.drawn(schematic.read(file), file.stem, supplies, told)
        text = inferred.written(found)
        if out is None:
            sys.stdout.write(text)
            return
        written.write(out, text.encode(), over=False)
    screen = Screen()
    screen.line(f"Written to {out}. To be settled by you:")
    screen.bullets(found.asked)
    screen.line(f"Then try it: chopstick circuit volts {out}")


def _output(text: str) -> tuple[tuple[str, ...], float]:
    *nodes, ohm = text.split()
    if len(nodes) not in (2, 3):
        raise ValueError(f"'{text}' is not an output transformer: write plate, B+ and (push-pull) plate, then its ohms")
    return tuple(nodes), notation.parse(ohm, "ohm").value


@circuit_app.command()
def netlist(file: File) -> None:
    """Write a circuit as a SPICE netlist.

    With the tube laws that chopstick uses, and each supply held at the volts it gives.

    \b
    chopstick circuit netlist single-ended-6v6gt > amp.cir
    """
    with _told():
        sys.stdout.write(spice_netlist.netlist(_load(file).circuit))


STARTER = """\
# A circuit file. Change it into the amp on the bench: its values, its nodes, its supply. Then
#   chopstick circuit volts THIS_FILE      shows what every test point should read, and every mistake by line
#   chopstick circuit rank THIS_FILE --readings READINGS.yaml
# parts      kind, value in trade notation (100k, 22n, 25u), the nodes it joins; `chassis` is the return.
#            tolerance_percent is 10 for resistors and 20 for capacitors unless you say otherwise.
# supplies   secondary_V: open-circuit RMS volts each side; source_ohm: winding, reflected primary and any series
#            resistor, each side; reservoir: the first filter capacitor.
# stages     every part and tube belongs to one; the ranking takes at most one fault from each.
# normal     what the healthy figures should be and who says so; leave out what you can't source.
"""
