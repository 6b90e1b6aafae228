"""DC operating point of many variants of one circuit at once.

The nodal equations of the linear parts are inverted once, for the healthy circuit. A variant (a fault, a changed
part, a meter on a node) is a change of a few conductances, so its network as seen from the tubes and supplies follows
by the Woodbury identity. What is left is a small nonlinear system in the port voltages of each variant,

    u = u_oc - A (i(u) - g u),

with A the port resistances and g the preload, solved for all variants together by Newton's method. Steps are limited
device by device; variants that do not settle are tried again with the sources brought up in steps. The result is
accepted only if Kirchhoff's current law holds at every node; otherwise the variant is reported as not converged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..devices.supply import CURVE_POINTS, SupplyCurve, SupplySpec, curves
from ..devices.tubes import Array, Flow, pentode, triode
from .network import Network

Bools = NDArray[np.bool_]
ROUNDS = 60
ROUNDS_NEAR = 30
PATIENCE = 22
TOLERANCE_V = 1e-6


@dataclass(frozen=True)
class Variant:
    """What differs from the healthy circuit.

    conductances: (node a, node b, change in siemens) with -1 for the chassis.
    emission, gas: by tube section (index over triodes, then pentodes): factor on the current; ion share.
    supplies: by supply index, the changed supply (a curve of its own).
    farads: by element index, the factor on a capacitance; direct current knows nothing of it.
    """

    conductances: tuple[tuple[int, int, float], ...] = ()
    emission: tuple[tuple[int, float], ...] = ()
    gas: tuple[tuple[int, float], ...] = ()
    supplies: tuple[tuple[int, SupplySpec], ...] = ()
    farads: tuple[tuple[int, float], ...] = ()

    def __or__(self, other: Variant) -> Variant:
        """Both changes at once."""
        return Variant(
            self.conductances + other.conductances,
            self.emission + other.emission,
            self.gas + other.gas,
            self.supplies + other.supplies,
            self.farads + other.farads,
        )


@dataclass(frozen=True)
class Solution:
    """Operating points. Arrays lead with the variant; volts are to chassis.

    port_V, port_A: (variants, ports), order as in Network. `slope` (variants, ports, ports) holds d(port_A)/d(port_V),
    less the preload.
    converged: False where no operating point was found; its numbers are NaN.
    """

    network: Network
    variants: tuple[Variant, ...]
    volts: Array
    port_V: Array
    port_A: Array
    slope: Array
    converged: Bools
    rounds: NDArray[np.intp]
    batch: Batch = field(repr=False)


@dataclass(frozen=True)
class Batch:
    """The variants' networks, seen from the ports. Shapes: V variants, N nodes, P ports, R changes at most."""

    network: Network
    inverse: Array  # (N+1, N+1), the last row and column are the chassis: zero
    ends: NDArray[np.intp]  # (V, R, 2)
    change: Array  # (V, R)
    core: Array  # (V, R, R)
    columns: Array  # (V, N, R): inverse times the change vectors
    resistance: Array  # (V, P, P)
    open_V: Array  # (V, P)
    emission: Array  # (V, tubes)
    gas: Array
    curve_of: NDArray[np.intp]  # (V, supplies)
    tables: tuple[Array, Array, Array]  # top volts (curves,), current and slope (curves, CURVE_POINTS)

    def take(self, rows: NDArray[np.intp]) -> Batch:
        """Some of the variants."""
        return Batch(
            self.network, self.inverse, self.ends[rows], self.change[rows], self.core[rows], self.columns[rows],
            self.resistance[rows], self.open_V[rows], self.emission[rows], self.gas[rows], self.curve_of[rows],
            self.tables,
        )  # fmt: skip


class Solver:
    """Solves variants of one network; holds the healthy network's inverse and operating point."""

    def __init__(self, network: Network, known: Mapping[SupplySpec, SupplyCurve] | None = None) -> None:
        """known: curves of supplies that were solved before, which takes longer than all the rest."""
        self.network = network
        self.inverse = _inverse(network)
        self.curves = list((known or {}).values())
        self._curve_index = {spec: index for index, spec in enumerate(known or {})}
        self.healthy_V: Array | None = None
        healthy = self.solve([Variant()])
        if not healthy.converged[0]:
            raise ArithmeticError("no operating point was found for the healthy circuit; check its values and nodes")
        self.healthy = healthy
        self.healthy_V = healthy.port_V[0]

    def solve(self, variants: Sequence[Variant], near: Array | None = None, give_up: bool = True) -> Solution:
        """Operating points of `variants`, all together.

        near: port volts (variants, ports) to begin from. What does not settle from there is given up, since the way
        round by source stepping costs as much as hundreds of others; without `near`, or unless `give_up`, it is taken.
        """
        batch = self._batch(variants)
        count = len(variants)
        if near is not None:
            start = near
        elif self.healthy_V is not None:
            start = np.tile(self.healthy_V, (count, 1))
        else:
            start = _cold_start(self.network, count)
        port_V, settled, rounds = _newton(batch, start, np.ones(count), ROUNDS if near is None else ROUNDS_NEAR)
        if (near is None or not give_up) and not settled.all():
            again = np.flatnonzero(~settled)
            port_V[again], settled[again], more = _bring_up(batch.take(again))
            rounds[again] += more
        port_A, slopes = port_currents(batch, port_V, np.ones(count))
        volts = node_volts(batch, port_A - self.network.preload * port_V)
        converged = settled & self._holds(batch, volts, port_A)
        volts[~converged] = np.nan
        slope = slope_matrix(batch, slopes)
        return Solution(self.network, tuple(variants), volts, port_V, port_A, slope, converged, rounds, batch)

    def settled(self, variants: Sequence[Variant], port_V: Array) -> Solution:
        """Variants whose port volts are known: nothing is searched for."""
        batch = self._batch(variants)
        port_A, slopes = port_currents(batch, port_V, np.ones(len(variants)))
        volts = node_volts(batch, port_A - self.network.preload * port_V)
        known = np.asarray(np.isfinite(port_V).all(axis=1), dtype=np.bool_)
        rounds = np.zeros(len(variants), dtype=np.intp)
        return Solution(
            self.network, tuple(variants), volts, port_V, port_A, slope_matrix(batch, slopes), known, rounds, batch
        )

    def _batch(self, variants: Sequence[Variant]) -> Batch:
        network = self.network
        count, tubes = len(variants), len(network.triodes) + len(network.pentodes)
        most = max((len(v.conductances) for v in variants), default=0)
        ends = np.full((count, most, 2), -1, dtype=np.intp)
        change = np.zeros((count, most))
        emission, gas = np.ones((count, tubes)), np.zeros((count, tubes))
        specs = [port.spec for port in network.supplies]
        self._know([*specs, *(spec for v in variants for _, spec in v.supplies)])
        curve_of = np.tile(np.array([self._curve_index[s] for s in specs], dtype=np.intp), (count, 1))
        for row, variant in enumerate(variants):
            for column, (a, b, siemens) in enumerate(variant.conductances):
                ends[row, column] = a, b
                change[row, column] = siemens
            for tube, factor in variant.emission:
                emission[row, tube] *= factor
            for tube, share in variant.gas:
                gas[row, tube] += share
            for supply, spec in variant.supplies:
                curve_of[row, supply] = self._curve_index[spec]
        one, other = ends[..., 0], ends[..., 1]
        z = self.inverse
        columns = (z[:, one] - z[:, other]).transpose(1, 0, 2)[:, :-1]
        seen = columns_at(columns, one) - columns_at(columns, other)  # (V, R, R)
        core = np.asarray(
            np.linalg.solve(np.eye(most) + change[:, :, None] * seen, change[:, :, None] * np.eye(most)),
            dtype=np.float64,
        )
        from_ports = np.einsum("np,vnr->vpr", network.incidence, columns)
        source = z[:-1, :-1] @ network.sources_A
        sound = network.incidence.T @ z[:-1, :-1] @ network.incidence
        resistance = sound - from_ports @ core @ from_ports.transpose(0, 2, 1)
        padded = np.append(source, 0.0)
        open_V = network.incidence.T @ source - np.einsum(
            "vpr,vrs,vs->vp", from_ports, core, padded[one] - padded[other]
        )
        tables = (
            np.array([c.top_V for c in self.curves]),
            np.array([c.current_A for c in self.curves]).reshape(-1, CURVE_POINTS),
            np.array([c.slope_S for c in self.curves]).reshape(-1, CURVE_POINTS),
        )
        return Batch(
            network, z, ends, change, core, columns, resistance, open_V, emission, gas, curve_of, tables
        )  # fmt: skip

    def _know(self, specs: Sequence[SupplySpec]) -> None:
        fresh = [spec for spec in dict.fromkeys(specs) if spec not in self._curve_index]
        if fresh:
            for spec, found in zip(fresh, curves(fresh), strict=True):
                self._curve_index[spec] = len(self.curves)
                self.curves.append(found)

    def curve(self, spec: SupplySpec) -> SupplyCurve:
        """The regulation curve of a supply this solver has met."""
        self._know([spec])
        return self.curves[self._curve_index[spec]]

    def _holds(self, batch: Batch, volts: Array, port_A: Array) -> Bools:
        """Kirchhoff's current law at every node, to a millionth of what flows there (or a nanoampere)."""
        network = self.network
        _, _, siemens, _ = network.conductances
        flow = (volts @ network.element_incidence) * siemens
        padded = np.concatenate([volts, np.zeros((len(volts), 1))], axis=1)
        rows = np.arange(len(volts))[:, None]
        extra = (padded[rows, batch.ends[..., 0]] - padded[rows, batch.ends[..., 1]]) * batch.change
        elements, ports = network.element_incidence.T, network.incidence.T
        sums = flow @ elements + port_A @ ports - network.sources_A
        total = np.abs(flow) @ np.abs(elements) + np.abs(port_A) @ np.abs(ports) + network.sources_A
        for column in range(batch.ends.shape[1]):
            for end, sign in ((0, 1.0), (1, -1.0)):
                at = batch.ends[:, column, end]
                real = at >= 0
                sums[rows[real, 0], at[real]] += sign * extra[real, column]
                total[rows[real, 0], at[real]] += np.abs(extra[real, column])
        held: Bools = (np.abs(sums) <= 1e-6 * total + 1e-9).all(axis=1)
        return held


def columns_at(columns: Array, nodes: NDArray[np.intp]) -> Array:
    """Rows `nodes` (V, R) of `columns` (V, N, R); -1 gives zeros. Shape (V, R, R)."""
    padded = np.concatenate([columns, np.zeros_like(columns[:, :1])], axis=1)
    picked: Array = padded[np.arange(len(columns))[:, None], nodes]
    return picked


def _inverse(network: Network) -> Array:
    size = len(network.nodes)
    nodal = np.zeros((size + 1, size + 1))
    for element in network.elements:
        a, b, g = element.a, element.b, element.siemens
        nodal[a, a] += g
        nodal[b, b] += g
        nodal[a, b] -= g
        nodal[b, a] -= g
    inner = nodal[:-1, :-1] + (network.incidence * network.preload) @ network.incidence.T
    padded = np.zeros((size + 1, size + 1))
    padded[:-1, :-1] = np.linalg.inv(inner)
    return padded


def _cold_start(network: Network, count: int) -> Array:
    start = np.zeros((count, network.ports))
    if network.supplies:
        start[:, -len(network.supplies) :] = [port.spec.open_circuit_V for port in network.supplies]
    return start


def supply_currents(batch: Batch, port_V: Array, scale: Array) -> tuple[Array, Array]:
    """Current drawn by the supply ports (negative: they feed) and its slope; `scale` (V,) brings the mains up."""
    top, current, slope = batch.tables
    k = scale[:, None]
    tops = top[batch.curve_of] * k
    step = tops / (CURVE_POINTS - 1)
    position = np.clip(port_V / step, 0.0, CURVE_POINTS - 1.000001)
    cell = position.astype(np.intp)
    t = position - cell
    y0, y1 = current[batch.curve_of, cell], current[batch.curve_of, cell + 1]
    h = step / k
    m0, m1 = slope[batch.curve_of, cell] * h, slope[batch.curve_of, cell + 1] * h
    value = y0 + t * (m0 + t * (3 * (y1 - y0) - 2 * m0 - m1 + t * (m0 + m1 - 2 * (y1 - y0))))
    rate = (m0 + t * (2 * (3 * (y1 - y0) - 2 * m0 - m1) + 3 * t * (m0 + m1 - 2 * (y1 - y0)))) / h
    outside = np.where(port_V < 0, port_V, np.where(port_V > tops, port_V - tops, 0.0))
    rate = np.where(port_V > tops, -1e-6, np.where(port_V < 0, np.minimum(rate, -1e-9), rate))
    return -(value * k + outside * rate), -rate


def tube_flows(batch: Batch, port_V: Array) -> tuple[Flow | None, Flow | None]:
    """Currents and slopes of the triodes and the pentodes, arrays of shape (variants, sections)."""
    network = batch.network
    many = len(network.triodes)
    split = 2 * many
    flows: list[Flow | None] = [None, None]
    if many:
        u = port_V[:, :split]
        flows[0] = triode(u[:, 0::2], u[:, 1::2], network.laws[0], batch.emission[:, :many], batch.gas[:, :many])
    if network.pentodes:
        u = port_V[:, split : split + 3 * len(network.pentodes)]
        flows[1] = pentode(
            u[:, 0::3], u[:, 1::3], u[:, 2::3], network.laws[1],
            batch.emission[:, many:], batch.gas[:, many:],
        )  # fmt: skip
    return flows[0], flows[1]


def port_currents(batch: Batch, port_V: Array, scale: Array) -> tuple[Array, list[tuple[slice, slice, Array]]]:
    """Currents of every port (V, P), and the slopes as (ports of the current, ports of the voltage, values)."""
    network = batch.network
    current = np.empty_like(port_V)
    slopes: list[tuple[slice, slice, Array]] = []
    offset = 0
    for flow, names in zip(tube_flows(batch, port_V), (network.triodes, network.pentodes), strict=True):
        if flow is None:
            continue
        width = len(flow.current)
        end = offset + width * len(names)
        at = [slice(offset + j, end, width) for j in range(width)]
        for i in range(width):
            current[:, at[i]] = flow.current[i]
            slopes += [(at[i], at[j], flow.slope[i][j]) for j in range(width)]
        offset = end
    if network.supplies:
        here = slice(offset, offset + len(network.supplies))
        current[:, here], rate = supply_currents(batch, port_V[:, here], scale)
        slopes.append((here, here, rate))
    return current, slopes


def node_volts(batch: Batch, excess_A: Array) -> Array:
    """Node volts (V, N) for port currents beyond the preload."""
    network = batch.network
    z = batch.inverse[:-1, :-1]
    volts = (network.sources_A - excess_A @ network.incidence.T) @ z
    padded = np.concatenate([volts, np.zeros((len(volts), 1))], axis=1)
    rows = np.arange(len(volts))[:, None]
    across = padded[rows, batch.ends[..., 0]] - padded[rows, batch.ends[..., 1]]
    correction = np.einsum("vnr,vrs,vs->vn", batch.columns, batch.core, across)
    result: Array = volts - correction
    return result


def slope_matrix(batch: Batch, slopes: list[tuple[slice, slice, Array]]) -> Array:
    """D - g for each variant: the slopes of the port currents by the port volts, less the preload, (V, P, P)."""
    count = batch.network.ports
    index = np.arange(count)
    result = np.zeros((len(batch.open_V), count, count))
    for rows, columns, values in slopes:
        result[:, index[rows], index[columns]] = values
    result[:, index, index] -= batch.network.preload
    return result


def jacobian(batch: Batch, slope: Array) -> Array:
    """I + A (D - g) for each variant, from D - g."""
    result: Array = np.matmul(batch.resistance, slope)
    index = np.arange(batch.network.ports)
    result[:, index, index] += 1.0
    return result


def _newton(batch: Batch, start: Array, scale: Array, most: int) -> tuple[Array, Bools, NDArray[np.intp]]:
    """Newton's method on the port voltages; returns them, which variants settled, and the rounds each took."""
    port_V = start.copy()
    count = len(start)
    settled = np.zeros(count, dtype=bool)
    rounds = np.zeros(count, dtype=np.intp)
    grids = _grid_ports(batch.network)
    active, work = np.arange(count), batch
    for turn in range(1, most + 1):
        u = port_V[active]
        current, slopes = port_currents(work, u, scale[active])
        miss = (
            u
            - work.open_V * scale[active, None]
            + np.einsum("vpq,vq->vp", work.resistance, current - batch.network.preload * u)
        )
        step = -np.linalg.solve(jacobian(work, slope_matrix(work, slopes)), miss[..., None])[..., 0]
        done = (np.abs(step) <= TOLERANCE_V * (1.0 + np.abs(u))).all(axis=1)
        port_V[active] = u + _limited(u, step, grids, turn)
        rounds[active] = turn
        settled[active[done]] = True
        if done.all():
            break
        if done.any():
            keep = np.flatnonzero(~done)
            active, work = active[keep], work.take(keep)
    settled &= np.isfinite(port_V).all(axis=1)
    return port_V, settled, rounds


def _grid_ports(network: Network) -> Bools:
    triodes, pentodes = len(network.triodes), len(network.pentodes)
    flags = [True, False] * triodes + [True, False, False] * pentodes + [False] * len(network.supplies)
    return np.array(flags, dtype=bool)


def _limited(u: Array, step: Array, grids: Bools, turn: int) -> Array:
    """Keep each grid from leaping far into grid current, and each plate from leaping far up or below its cathode.

    A variant that has not settled by round PATIENCE swings between two states and is held on a shorter leash.
    """
    share = 1.0 if turn < PATIENCE else 0.4
    rise = np.where(grids, 2.0 + share * np.abs(u), 200.0 * share**3 + share * np.abs(u))
    fall = np.where(grids, 20.0 + share * np.abs(u), share * np.maximum(u, 0.0) + 1.0)
    result: Array = np.clip(np.nan_to_num(step), -fall, rise)
    return result


def _bring_up(batch: Batch) -> tuple[Array, Bools, NDArray[np.intp]]:
    """Source stepping: the mains brought up from a tenth, each step starting from the last."""
    count = len(batch.open_V)
    port_V = 0.1 * _cold_start(batch.network, count)
    settled = np.zeros(count, dtype=bool)
    rounds = np.zeros(count, dtype=np.intp)
    for share in (0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0):
        found, settled, more = _newton(batch, port_V, np.full(count, share), ROUNDS)
        port_V = np.where(settled[:, None], found, port_V)
        rounds += more
    return port_V, settled, rounds
