"""How the readings move with every uncertain quantity: parts within tolerance, tubes from sample to sample, mains.

At each solved variant the network is linear in small changes. One row of its inverse for each test node (by the same
low-rank identity as in solve.py) gives the slope of that node's volts by every conductance, tube and supply.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..devices.tubes import Array, Flow, pentode, triode
from .faults import Severity
from .network import Ints
from .solve import Solution, jacobian

#: Sample spread of the tubes found in amps, as uniform limits (common practice, no source), with what the laws miss of
#: them: emission and amplification factor, as shares; contact potential, in volts, which shifts all that the grid does.
EMISSION_LIMIT = 0.40
MU_LIMIT = 0.15
CONTACT_LIMIT_V = 0.30
#: How far off the current is that a grid draws when driven positive, as a standard deviation of its logarithm: the laws
#: are fitted to what the plate does.
GRID_SPREAD = 0.5
#: The same for what the screen takes: data sheets and tubes differ in it by far more than in the plate current.
SCREEN_SPREAD = 0.35
#: A tube that is nearly cut off is known less well by as much (its remote cutoff depends on how evenly the grid is
#: wound), below a share CUT_OFF of its current when all is healthy.
CUT_OFF_MORE = 2.0
CUT_OFF = 0.03
#: What leaks into any node from boards, sockets and capacitors that are good, standard deviation (common practice, no
#: source): a grid of a megohm is off by some hundredths of a volt, a low-ohm cathode by nothing.
STRAY_A = 1e-7
#: How far a supply's resistance is off (windings, rectifier), as a standard deviation of its logarithm.
SOURCE_SPREAD = 0.2
#: How far a secondary is from the volts that the circuit file has for it, beside the mains, as a share.
SECONDARY_LIMIT = 0.05
_STEP = 1e-4


@dataclass(frozen=True)
class Spread:
    """Standard deviations and slopes. slopes (variants, test points, quantities), sigma (quantities,).

    nodal: the rows of the variants' inverses at the test nodes, (variants, test points, nodes + 1).
    """

    slopes: Array
    sigma: Array
    nodal: Array

    def thevenin_ohm(self, nodes: Ints) -> Array:
        """Source resistance at each test node, (variants, test points)."""
        found: Array = self.nodal[:, np.arange(len(nodes)), nodes]
        return found


def spread(solution: Solution, nodes: Ints, severities: list[Severity], mains_limit: float, sound: Array) -> Spread:
    """Slopes of the test nodes' volts by the logarithm of every uncertain quantity, for every variant.

    sound: the port currents (A) when all is healthy. `nodes` holds the test nodes, (test points,), or a row of them for
    each variant, (variants, test points).
    """
    network = solution.network
    nodal, at_ports = _rows(solution, nodes)
    a, b, siemens, tolerance = network.conductances
    uncertain = tolerance > 0.0
    a, b, siemens, tolerance = a[uncertain], b[uncertain], siemens[uncertain], tolerance[uncertain]
    padded = np.concatenate([solution.volts, np.zeros((len(solution.volts), 1))], axis=1)
    through = (padded[:, a] - padded[:, b]) * _left(solution, a, b, siemens)
    blocks = [(nodal[:, :, a] - nodal[:, :, b]) * through[:, None, :]]
    sigma = [tolerance / np.sqrt(3.0)]
    by_emission, by_mu = _tube_slopes(solution, at_ports, sound)
    by_contact, by_grid = _grid_slopes(solution, at_ports)
    blocks += [by_emission, by_mu, by_contact, by_grid, _mains_slope(solution, at_ports)]
    tubes = by_emission.shape[2]
    limits = (EMISSION_LIMIT, MU_LIMIT, CONTACT_LIMIT_V)
    sigma += [np.full(tubes, limit / np.sqrt(3.0)) for limit in limits]
    sigma += [np.full(tubes, GRID_SPREAD), np.full(1, np.hypot(mains_limit, SECONDARY_LIMIT) / np.sqrt(3.0))]
    blocks.append(nodal[:, :, :-1])
    sigma.append(np.full(len(network.nodes), STRAY_A))
    screens = slice(2 * len(network.triodes) + 2, network.ports - len(network.supplies), 3)
    blocks += [_source_slopes(solution, at_ports), -at_ports[:, :, screens] * solution.port_A[:, None, screens]]
    sigma += [np.full(len(network.supplies), SOURCE_SPREAD), np.full(len(network.pentodes), SCREEN_SPREAD)]
    blocks.append(_severity_slope(solution, severities, nodal, at_ports, padded))
    sigma.append(np.ones(1))
    slopes = np.concatenate(blocks, axis=2)
    slopes[~solution.converged] = 0.0
    _widen(slopes, severities, len(tolerance), tubes)
    return Spread(slopes, np.concatenate(sigma), nodal)


def _left(solution: Solution, a: Ints, b: Ints, siemens: Array) -> Array:
    """Conductance of every element in every variant: what a fault has taken from it has no tolerance left."""
    found = np.broadcast_to(siemens, (len(solution.variants), len(siemens))).copy()
    for row, variant in enumerate(solution.variants):
        for end_a, end_b, change in variant.conductances:
            if change < 0.0:
                same = (a == end_a) & (b == end_b) & (siemens + change >= 0.0)
                found[row, same] += change
    return found


def _rows(solution: Solution, nodes: Ints) -> tuple[Array, Array]:
    """Rows of the variants' inverses at `nodes`, and the same seen at the ports."""
    batch, network = solution.batch, solution.network
    z = batch.inverse[:-1, :-1]
    columns = batch.columns.transpose(0, 2, 1)  # (V, R, N)
    own = nodes if nodes.ndim == 2 else np.broadcast_to(nodes, (len(batch.columns), len(nodes)))
    at_nodes = batch.columns[np.arange(len(own))[:, None], own] @ batch.core  # (V, T, R)
    rows = z[own] - at_nodes @ columns
    from_ports = np.einsum("np,vnr->vpr", network.incidence, batch.columns)
    port_rows = (network.incidence.T @ z)[None] - from_ports @ batch.core @ columns  # (V, P, N)
    seen = rows @ network.incidence
    loaded = seen @ solution.slope
    system = jacobian(batch, solution.slope).transpose(0, 2, 1)
    weights = np.linalg.solve(system, loaded.transpose(0, 2, 1)).transpose(0, 2, 1)
    rows = rows - weights @ port_rows
    padded = np.concatenate([rows, np.zeros((*rows.shape[:2], 1))], axis=2)
    return padded, rows @ network.incidence


def _tube_slopes(solution: Solution, at_ports: Array, sound: Array) -> tuple[Array, Array]:
    """Slopes by emission and by amplification factor of each tube section, (V, T, tubes)."""
    network, batch = solution.network, solution.batch
    emission: list[Array] = []
    mu: list[Array] = []
    offset = 0
    many = len(network.triodes)
    for law, width in zip(network.laws, (2, 3), strict=True):
        if law is None:
            continue
        nudged = type(law)(**{**law.__dict__, "mu": law.mu * (1.0 + _STEP)})
        count = len(law.mu)
        end = offset + width * count
        at = [slice(offset + k, end, width) for k in range(width)]
        sections = slice(0, many) if width == 2 else slice(many, None)
        volts = [solution.port_V[:, here] for here in at]
        moved = _flow(nudged, volts, batch.emission[:, sections], batch.gas[:, sections])
        by_emission = np.zeros((*at_ports.shape[:2], count))
        by_mu = np.zeros_like(by_emission)
        left = solution.port_A[:, at[1]] / np.maximum(sound[at[1]], 1e-9)
        less_known = 1.0 + CUT_OFF_MORE / (1.0 + np.maximum(left, 0.0) / CUT_OFF)
        for here, current in zip(at[1:], moved.current[1:], strict=True):
            now = solution.port_A[:, here]
            by_emission -= at_ports[:, :, here] * now[:, None, :]
            by_mu -= at_ports[:, :, here] * (less_known * (current - now) / _STEP)[:, None, :]
        emission.append(by_emission)
        mu.append(by_mu)
        offset = end
    if not emission:
        nothing = np.zeros((*at_ports.shape[:2], 0))
        return nothing, nothing
    return np.concatenate(emission, axis=2), np.concatenate(mu, axis=2)


def _grid_slopes(solution: Solution, at_ports: Array) -> tuple[Array, Array]:
    """Slopes by the contact potential of each section (by volt), as which all its currents go as if the grid stood
    higher; and by the electrons that its grid draws."""
    network = solution.network
    triodes, pentodes = len(network.triodes), len(network.pentodes)
    contact = np.zeros((*at_ports.shape[:2], triodes + pentodes))
    drawn = np.zeros_like(contact)
    for tube in range(triodes + pentodes):
        width = 2 if tube < triodes else 3
        grid = 2 * tube if tube < triodes else 2 * triodes + 3 * (tube - triodes)
        rise = solution.slope[:, grid : grid + width, grid].copy()
        rise[:, 0] += network.preload[grid]
        contact[:, :, tube] = -np.einsum("vtw,vw->vt", at_ports[:, :, grid : grid + width], rise)
        ions = solution.batch.gas[:, tube] * solution.port_A[:, grid + 1]
        drawn[:, :, tube] = -at_ports[:, :, grid] * (solution.port_A[:, grid] + ions)[:, None]
    return contact, drawn


def _source_slopes(solution: Solution, at_ports: Array) -> Array:
    """Slopes by each supply's resistance: k times as high, it gives the kth part at the same volts."""
    count = len(solution.network.supplies)
    here = slice(solution.network.ports - count, solution.network.ports)
    found: Array = at_ports[:, :, here] * solution.port_A[:, None, here]
    return found


def _flow(law: Any, volts: list[Array], emission: Array, gas: Array) -> Flow:
    if len(volts) == 2:
        return triode(volts[0], volts[1], law, emission, gas)
    return pentode(volts[0], volts[1], volts[2], law, emission, gas)


def _mains_slope(solution: Solution, at_ports: Array) -> Array:
    """Slope by the mains: a supply k times as high gives k I(V/k)."""
    network = solution.network
    count = len(network.supplies)
    if not count:
        return np.zeros((*at_ports.shape[:2], 1))
    here = slice(network.ports - count, network.ports)
    rate = np.diagonal(solution.slope, axis1=1, axis2=2)[:, here] + network.preload[here]
    push = -solution.port_A[:, here] + solution.port_V[:, here] * rate
    result: Array = (at_ports[:, :, here] * push[:, None, :]).sum(axis=2, keepdims=True)
    return result


def _severity_slope(
    solution: Solution, severities: list[Severity], nodal: Array, at_ports: Array, padded: Array
) -> Array:
    """Slope by how bad the fault is, times its own spread."""
    result = np.zeros((*nodal.shape[:2], 1))
    network = solution.network
    for row, severity in enumerate(severities):
        if severity.moves == "conductance":
            a, b, _ = severity.variant.conductances[0]
            push = (padded[row, a] - padded[row, b]) * severity.siemens
            result[row, :, 0] = (nodal[row, :, a] - nodal[row, :, b]) * push * severity.spread
        elif severity.moves == "gas":
            many = len(network.triodes)
            at = 2 * severity.tube if severity.tube < many else 2 * many + 3 * (severity.tube - many)
            ions = severity.variant.gas[0][1] * solution.port_A[row, at + 1]
            result[row, :, 0] = at_ports[row, :, at] * ions * severity.spread
    return result


def _widen(slopes: Array, severities: list[Severity], elements: int, tubes: int) -> None:
    """A weak tube's emission, and a mains fault's volts, are less certain than a good one's."""
    mains = elements + 4 * tubes
    for row, severity in enumerate(severities):
        if severity.moves == "emission":
            extra = severity.spread / (EMISSION_LIMIT / np.sqrt(3.0))
            slopes[row, :, elements + severity.tube] *= np.hypot(1.0, extra)
        elif severity.moves == "mains":
            slopes[row, :, mains] *= np.sqrt(2.0)


def covariance(slopes: Array, sigma: Array) -> Array:
    """Covariance of the test nodes' volts from all uncertain quantities, (variants, T, T)."""
    scaled = slopes * sigma
    result: Array = scaled @ scaled.transpose(0, 2, 1)
    return result
