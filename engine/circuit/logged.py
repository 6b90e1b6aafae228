"""Readings whose error goes with their size: levels of a signal, gains, ripple and hum, ohms with the power off.

Each is one column over the rows of a dictionary, on a scale that is the logarithm of the reading down to a floor, below
which nothing is told apart: y = asinh(reading / floor). Two faults at once are taken to add up on that scale. What
parts, tubes and the ripple's source may differ by, moves the columns together by the slopes of the good amp.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..devices.supply import CURVE_POINTS, HARMONICS
from ..devices.tubes import Array
from .netlist import CHASSIS
from .network import Ints, Network
from .quantities import Quantity
from .response import Complexes
from .small_signal import Signals
from .solve import Solver, Variant

#: Least reading that counts: volts of an AC voltmeter or a scope, a gain, and ohms.
LEAST = {"level": 5e-4, "hum": 5e-4, "gain": 0.02, "ohms": 0.3}
#: What the meter is off by, as a share, standard deviation (common practice, no source: an AC range is good to 2 or 3
#: percent); and what the laws of tubes and transformer leave out.
METER_SHARE = {"level": 0.02, "hum": 0.03, "gain": 0.03, "ohms": 0.01}
MODEL_SHARE = {"level": 0.03, "hum": 0.12, "gain": 0.04, "ohms": 0.01}
STRAY_SHARE = 0.005
MOST_OHM = 2e7  # above it a meter shows OL
#: Standard deviations: of a tube's amplification, of its currents' slopes, of the ripple that the supply gives, and of
#: the output transformer's inductance.
MU_SPREAD, SLOPE_SPREAD, PENTODE_SLOPE_SPREAD, RIPPLE_SPREAD, HENRY_SPREAD = 0.09, 0.16, 0.25, 0.18, 0.4
#: A power tube's idle current on a fixed bias is what its owner has set it to; and how its slopes go with its current.
FIXED_BIAS_SPREAD, SLOPE_BY_CURRENT = 0.4, 0.6
SELF_BIAS_SPREAD = 0.15  # of the current of a tube that a cathode resistor holds
FIXED_BIAS_V = -3.0  # a grid as far below the chassis has one
#: Heater volts to chassis that a leak brings to a cathode: half of 6.3 V RMS, the winding centered.
HEATER_V = 3.15
#: Of the gap between a fault's neighboring degrees, the standard deviation of where an amp stands.
BETWEEN_DEGREES = 0.35
RIPPLE_HARMONICS = (1, 2, 4)
DRIVES_V = (1e-3, 2e-3, 5e-3, 10e-3, 20e-3, 50e-3, 0.1, 0.2, 0.5, 1.0, 2.0)
DRIVEN_SHARE = 0.2  # of a tube's bias that the signal (RMS) may swing a grid by, so that nothing is clipped


@dataclass(frozen=True)
class Column:
    """One reading over the rows of a dictionary. mean: on the column's scale; slopes: by each uncertain quantity, times
    its standard deviation, of the good amp; extra: variance of its own."""

    quantity: Quantity
    floor: float
    mean: Array
    slopes: Array
    extra: float

    def scaled(self, reading: float) -> float:
        return float(np.arcsinh(max(reading, 0.0) / self.floor))

    def read(self, scaled: float) -> float:
        return float(self.floor * np.sinh(max(scaled, 0.0)))

    @property
    def sigma(self) -> Array:
        """Standard deviation under every row, on the column's scale, the meter's error taken in."""
        spread = (self.slopes**2).sum() + self.extra
        found: Array = np.sqrt(spread + np.array([_noise(self, self.read(y)) for y in self.mean.tolist()]))
        return found

    def band(self, row: int = 0, wide: float = 2.0) -> tuple[float, float, float]:
        """What is read under a row, and the lowest and highest with good parts."""
        mean = float(self.mean[row])
        reach = wide * float(np.sqrt((self.slopes**2).sum() + self.extra + _noise(self, self.read(mean))))
        return self.read(mean), self.read(mean - reach), self.read(mean + reach)


class Bench:
    """What is driven and read on one circuit; holds what was solved."""

    def __init__(self, solver: Solver, variants: Sequence[Variant], port_V: Array) -> None:
        """port_V: the operating points, (variants, ports); NaN where there is none. The good circuit comes first."""
        self.network: Network = solver.network
        self.signals = Signals(solver, solver.settled(variants, port_V))
        self.good = self.signals.solution.converged & np.isfinite(self.signals.solution.volts).all(axis=1)
        self._gains: dict[tuple[int, float], Complexes] = {}
        self._slopes: dict[tuple[int, float], Complexes] = {}
        self._columns: dict[str, Column] = {}
        self._drives: dict[str, float] = {}
        self._hum: tuple[Complexes, Complexes] | None = None

    def column(self, wanted: Quantity) -> Column:
        found = self._columns.get(wanted.name)
        if found is None:
            make = {"level": self._level, "hum": self._hum_column, "ohms": self._ohms}[wanted.kind]
            self._columns[wanted.name] = found = make(wanted)
        return found

    # --- what is uncertain

    def _uncertain(self, Hz: float) -> tuple[Array, Array, Complexes]:
        """Where each uncertain admittance draws its current (n, q), what drives it (n, q), and its standard deviation
        (q,): elements, each tube's amplification, each tube's slopes, the transformer's inductance."""
        network = self.network
        size = len(network.nodes)
        spans = network.element_incidence
        omega = 2.0 * np.pi * Hz
        sigma = np.array(
            [
                (
                    1j * omega * e.farad
                    if e.kind == "capacitor"
                    else e.siemens / (1.0 + 1j * omega * e.henry * e.siemens)
                )
                * (0.0 if e.name.startswith("primary_") else e.tolerance / np.sqrt(3.0))  # small beside the load
                for e in network.elements
            ],
            dtype=complex,
        )
        outs, ins, deltas = [spans], [spans], [sigma]
        slope = self.signals.solver.healthy.slope[0] + np.diag(network.preload)
        tubes = [(2 * k, 2) for k in range(len(network.triodes))]
        tubes += [(2 * len(network.triodes) + 3 * k, 3) for k in range(len(network.pentodes))]
        for by_plate in (False, True):
            for k, (at, width) in enumerate(tubes):
                share = self._slope_spread[k] if by_plate else MU_SPREAD
                out, drive = np.zeros(size), np.zeros(size)
                grid, plate = at, at + 1
                out = network.incidence[:, plate]
                drive = network.incidence[:, grid] * slope[plate, grid]
                if by_plate:
                    for other in range(at + 1, at + width):
                        drive = drive + network.incidence[:, other] * slope[plate, other]
                outs.append(out[:, None])
                ins.append(drive[:, None])
                deltas.append(np.array([share + 0j]))
        output = network.circuit.output
        if output is not None:
            speaker = np.zeros((size, 1))
            speaker[network.node(output.secondary)] = 1.0
            ratio = np.sqrt(output.primary_ohm / output.load_ohm)
            outs.append(speaker)
            ins.append(speaker)
            deltas.append(np.array([HENRY_SPREAD * ratio**2 / (1j * omega * output.primary_henry)]))
        return np.concatenate(outs, axis=1), np.concatenate(ins, axis=1), np.concatenate(deltas)

    @cached_property
    def _slope_spread(self) -> Array:
        """Standard deviation of each tube's slopes, as a share."""
        network, sound = self.network, self.signals.solver.healthy
        found = [SLOPE_SPREAD] * len(network.triodes)
        for name in network.pentodes:
            grid = network.node(network.circuit.tubes[name].grid)
            fixed = grid >= 0 and sound.volts[0, grid] < FIXED_BIAS_V
            found.append(FIXED_BIAS_SPREAD if fixed else PENTODE_SLOPE_SPREAD)
        return np.array(found)

    @cached_property
    def _drawn(self) -> Array:
        """What of the good amp's ripple goes with each tube's slopes: its share in the current drawn."""
        network, amperes = self.network, self.signals.solver.healthy.port_A[0]
        triodes, pentodes = len(network.triodes), len(network.pentodes)
        plates = amperes[1 : 2 * triodes : 2]
        tetrodes = amperes[2 * triodes : 2 * triodes + 3 * pentodes].reshape(-1, 3)[:, 1:].sum(axis=1)
        each = np.maximum(np.concatenate([plates, tetrodes]), 0.0)
        fixed = self._slope_spread == FIXED_BIAS_SPREAD
        spread = np.where(fixed, FIXED_BIAS_SPREAD / SLOPE_BY_CURRENT, SELF_BIAS_SPREAD)
        result: Array = each / max(float(each.sum()), 1e-9) * spread
        return result

    @property
    def _quantities(self) -> int:
        network = self.network
        tubes = len(network.triodes) + len(network.pentodes)
        return len(network.elements) + 2 * tubes + (network.circuit.output is not None)

    def _gain(self, source: int, Hz: float) -> Complexes:
        if (source, Hz) not in self._gains:
            self._gains[source, Hz] = self.signals.gains(source, Hz)
        return self._gains[source, Hz]

    def _slope(self, source: int, Hz: float) -> Complexes:
        """How the good amp's gains from `source` move with each uncertain quantity, times its deviation, (n, q)."""
        if (source, Hz) not in self._slopes:
            z = self.signals.sound(Hz)[: len(self.network.nodes), : len(self.network.nodes)]
            out, drive, sigma = self._uncertain(Hz)
            gain = z[:, source] / z[source, source]
            flow = (drive.T @ gain) * sigma
            columns = z @ out
            self._slopes[source, Hz] = -(columns - gain[:, None] * columns[source]) * flow
        return self._slopes[source, Hz]

    # --- levels and gains

    def drive_V(self, source: str) -> float:
        """Volts RMS that the generator is set to: the most that swings no grid by much of its bias."""
        if source not in self._drives:
            network, sound = self.network, self.signals.solver.healthy
            at = network.node(source)
            most = np.inf
            for Hz in (40.0, 1000.0, 5000.0):
                for tube in network.circuit.tubes.values():
                    if tube.grid == CHASSIS:
                        continue
                    grid, cathode = network.node(tube.grid), network.node(tube.cathode)
                    bias = abs(sound.volts[0, grid] - (sound.volts[0, cathode] if cathode >= 0 else 0.0))
                    swing = abs(self._gain(at, Hz)[0, grid] - (self._gain(at, Hz)[0, cathode] if cathode >= 0 else 0.0))
                    most = min(most, DRIVEN_SHARE * bias / max(float(swing), 1e-12))
            self._drives[source] = max((v for v in DRIVES_V if v <= most), default=DRIVES_V[0])
        return self._drives[source]

    def _level(self, wanted: Quantity) -> Column:
        network = self.network
        source, node = network.node(wanted.source), network.node(wanted.a)
        gains, slopes = self._gain(source, wanted.Hz), self._slope(source, wanted.Hz)
        if wanted.over:
            over = network.node(wanted.over)
            with np.errstate(divide="ignore", invalid="ignore"):
                held = gains[:, node] / gains[:, over]
            moved = slopes[node] / gains[0, over] - slopes[over] * gains[0, node] / gains[0, over] ** 2
            return self._column(wanted, "gain", np.nan_to_num(held[None]), moved[None])
        drive = self.drive_V(wanted.source)
        return self._column(
            wanted, "level", gains[:, node][None] * drive, slopes[node][None] * drive, self._passing(gains)
        )

    def _passing(self, gains: Complexes) -> Array | float:
        """How much of the signal comes to the power tubes' plates under each row, at most all of it."""
        output = self.network.circuit.output
        if output is None:
            return 1.0
        plates = [self.network.node(node) for node in output.primary if not node.startswith("bplus")]
        level = np.abs(np.nan_to_num(gains[:, plates])).max(axis=1)
        found: Array = np.minimum(level / max(float(level[0]), 1e-12), 1.0)
        return found

    def _column(
        self, wanted: Quantity, kind: str, amplitude: Complexes, moved: Complexes, passing: Array | float = 1.0
    ) -> Column:
        """amplitude (harmonics, rows) and its slopes at the good amp (harmonics, quantities), in V RMS; passing: how
        much of the signal comes through under each row."""
        own_power = (np.abs(amplitude) ** 2).sum(axis=0)
        floor = LEAST[kind]
        if kind == "level":  # wiring carries some of a signal past whatever is open
            floor = max(floor, STRAY_SHARE * float(np.sqrt(own_power[0])))
        # What two halves that cancel leave over in most amps, where it is more than the rest; it goes with the signal.
        scatter = max(0.0, float((np.abs(moved) ** 2).sum()) - float(own_power[0]))
        level = np.sqrt(own_power + scatter * passing**2)
        steep = 1.0 / np.sqrt(level**2 + floor**2)
        one = max(float(level[0]), 1e-12)
        slopes = np.real(np.conj(amplitude[:, :1]) * moved).sum(axis=0) / one * steep[0]
        # Where it is what is left over of two halves, it may as well be next to nothing.
        left_over = scatter / one**2
        own = MODEL_SHARE[kind] ** 2 + (RIPPLE_SPREAD**2 if kind == "hum" else 0.0)
        extra = own + (0.1 * left_over + 1.2 * left_over**2) * (one * steep[0]) ** 2
        mean = np.where(self.good, np.arcsinh(np.where(self.good, level, 0.0) / floor), 0.0)
        return Column(wanted, floor, mean, slopes, extra)

    # --- ripple and hum

    def _hum_column(self, wanted: Quantity) -> Column:
        amplitude, moved = self._hums()
        node = self.network.node(wanted.a)
        return self._column(wanted, "hum", amplitude[:, :, node], moved[:, node])

    def _hums(self) -> tuple[Complexes, Complexes]:
        """Volts RMS at every node without a signal, (harmonics, rows, nodes), and the good amp's slopes, (harmonics,
        nodes, quantities); the supplies' ripple and what leaks from the heaters."""
        if self._hum is None:
            found = [self._hum_at(harmonic) for harmonic in RIPPLE_HARMONICS]
            self._hum = np.array([one for one, _ in found]), np.array([one for _, one in found])
        return self._hum

    def _hum_at(self, harmonic: int) -> tuple[Complexes, Complexes]:
        network, solution = self.network, self.signals.solution
        first = network.ports - len(network.supplies)
        rows, nodes = len(solution.variants), len(network.nodes)
        total = np.zeros((rows, nodes), dtype=complex)
        moved = np.zeros((nodes, self._quantities), dtype=complex)
        mains = network.supplies[0].spec.mains_Hz if network.supplies else network.circuit.mains.Hz
        for k, port in enumerate(network.supplies):
            ripple = self._source(k, first + k, harmonic)
            if np.abs(ripple).max() < 1e-6:
                continue
            gains, slopes = self._gain(port.node, mains * harmonic), self._slope(port.node, mains * harmonic)
            total += np.nan_to_num(gains) * ripple[:, None]
            moved += slopes * ripple[0]
            if port.sign > 0:
                tubes = len(self._drawn)
                here = slice(len(network.elements) + tubes, len(network.elements) + 2 * tubes)
                moved[:, here] += (gains[0] * ripple[0])[:, None] * self._drawn
        if harmonic == 1:
            self._leaks(total, mains)
        if network.circuit.input is not None:
            total[:, network.node(network.circuit.input)] = 0.0
        return total, moved

    def _source(self, supply: int, column: int, harmonic: int) -> Complexes:
        """Volts RMS of one harmonic at a supply's reservoir, for every row."""
        signals = self.signals
        which, level = signals.solution.batch.curve_of[:, supply], signals.solution.port_V[:, column]
        place = HARMONICS.index(harmonic)
        found = np.zeros(len(level), dtype=complex)
        for index in np.unique(which):
            curve = signals.solver.curves[index]
            here = which == index
            at = np.clip(np.nan_to_num(level[here]) / curve.top_V, 0.0, 1.0) * (CURVE_POINTS - 1)
            grid = np.arange(CURVE_POINTS)
            wave = curve.harmonics_V[place]
            found[here] = np.interp(at, grid, wave.real) + 1j * np.interp(at, grid, wave.imag)
        result: Complexes = found / np.sqrt(2.0)
        return result

    def _leaks(self, total: Complexes, mains: float) -> None:
        """What leaks from a heater into its cathode, in the rows that have such a fault."""
        network, batch = self.network, self.signals.solution.batch
        for name in network.circuit.tubes:
            element = network.elements[network.element(f"{name}.heater_cathode")]
            if element.a < 0:
                continue
            leak = np.where((batch.ends == (element.a, element.b)).all(axis=2), batch.change, 0.0).max(
                axis=1, initial=0.0
            )
            rows = np.flatnonzero(leak > 1e-9)
            if len(rows):
                given = self.signals.given(element.a, mains, rows)
                total[rows] += np.nan_to_num(given) * (HEATER_V * leak[rows])[:, None]

    # --- ohms, power off

    def _ohms(self, wanted: Quantity) -> Column:
        network, batch = self.network, self.signals.solution.batch
        inverse = cold_inverse(network)
        a, b = network.node(wanted.a), network.node(wanted.b)
        span = inverse[a] - inverse[b]
        sound = span[a] - span[b]
        ends, change = batch.ends, batch.change
        seen = span[ends[..., 0]] - span[ends[..., 1]]  # (V, R)
        one, other = inverse[ends[..., 0]], inverse[ends[..., 1]]  # (V, R, n)
        across = one - other
        few = np.arange(len(ends))[:, None]
        own = across.transpose(0, 2, 1)
        own = own[few, ends[..., 0]] - own[few, ends[..., 1]]
        core = np.eye(ends.shape[1]) + change[..., None] * own
        flow = np.linalg.solve(core, (change * seen)[..., None])[..., 0]
        ohms = np.clip(sound - (seen * flow).sum(axis=1), 0.0, MOST_OHM)
        spread = np.zeros(self._quantities)
        i, j, siemens, tolerance = network.conductances
        spread[: len(siemens)] = (span[i] - span[j]) ** 2 * siemens * (tolerance / np.sqrt(3.0))
        floor = LEAST["ohms"]
        held = max(min(sound, MOST_OHM), 0.0)
        return Column(
            wanted, floor, np.arcsinh(ohms / floor), spread / np.hypot(held, floor), MODEL_SHARE["ohms"] ** 2
        )  # fmt: skip


def cold_inverse(network: Network) -> Array:
    """Inverse of the conductances of an amp without power: tubes and rectifiers pass nothing. The last row and column
    are the chassis."""
    size = len(network.nodes)
    nodal = np.zeros((size + 1, size + 1))
    for element in network.elements:
        if element.part in network.circuit.supplies:
            continue
        a, b, g = element.a, element.b, element.siemens
        nodal[[a, b], [a, b]] += g
        nodal[[a, b], [b, a]] -= g
    nodal[np.arange(size), np.arange(size)] += 1e-11
    found = np.zeros((size + 1, size + 1))
    found[:-1, :-1] = np.linalg.inv(nodal[:-1, :-1])
    return found


@dataclass(frozen=True)
class Logged:
    """Readings on their columns' scales: values (n,), mean (rows, n), and how surely. along, length: which way each
    row's own fault may be more or less far gone, (rows, n) and (rows,), the precision taken in."""

    columns: tuple[Column, ...]
    values: Array
    mean: Array
    noise: Array
    precision: Array
    log_det: float
    along: Array
    length: Array

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(column.quantity.name for column in self.columns)

    def likelihood(self, mean: Array, rows: Ints | slice) -> Array:
        """Log-likelihood for each of `mean` (k, n), `rows` being the rows whose degree is in question."""
        miss = self.values - np.maximum(mean, 0.0)
        along, length = (miss * self.along[rows]).sum(axis=1), self.length[rows]
        far = ((miss @ self.precision) * miss).sum(axis=1) - along**2 / length
        found: Array = -0.5 * (far + self.log_det + np.log(length) + len(self.values) * np.log(2.0 * np.pi))
        return found


def logged(columns: Sequence[Column], values: Sequence[float], row_fault: Ints) -> Logged:
    """What was read, against the columns."""
    scaled = np.array([column.scaled(value) for column, value in zip(columns, values, strict=True)])
    mean = np.stack([column.mean for column in columns], axis=1)
    slopes = np.stack([column.slopes for column in columns])
    noise = np.array([_noise(column, value) for column, value in zip(columns, values, strict=True)])
    full = slopes @ slopes.T + np.diag(noise + [column.extra for column in columns])
    sign, log_det = np.linalg.slogdet(full)
    assert sign > 0
    degree = np.zeros_like(mean)
    same = row_fault[1:] == row_fault[:-1]
    step = np.where(same[:, None], mean[1:] - mean[:-1], 0.0)
    degree[1:] += step
    degree[:-1] += step
    inner = np.zeros(len(mean))
    inner[1:] += same
    inner[:-1] += same
    degree *= (BETWEEN_DEGREES / np.maximum(inner, 1.0))[:, None]
    degree[0] = 0.0
    precision = np.asarray(np.linalg.inv(full), dtype=np.float64)
    along = degree @ precision
    length = 1.0 + (along * degree).sum(axis=1)
    return Logged(tuple(columns), scaled, mean, noise, precision, float(log_det), along, length)


def _noise(column: Column, value: float) -> float:
    kind = "gain" if column.quantity.over else column.quantity.kind
    size = max(value, 0.0)
    return float(((METER_SHARE[kind] * size) ** 2 + (0.5 * column.floor) ** 2) / (size**2 + column.floor**2))
