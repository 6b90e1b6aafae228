"""Rectifier supplies in the periodic steady state: level, ripple and peak current at any load.

One mains period is stepped with the trapezoidal rule (the implicit Euler rule where that would ring), the start of the
period being corrected by Newton's method (shooting) until the end equals the start. That is done for a whole set of
loads at once and yields the supply's regulation curve, which the circuit solver then treats as a one-port at the
reservoir (or after the input choke).

A rectifier section obeys i = perveance * (v - threshold)^1.5; the transformer is its open-circuit volts behind a
resistance per side (secondary, plus primary reflected).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .failed_reservoir import cycle
from .tubes import Array

STEPS = 192
CURVE_POINTS = 256
HARMONICS = (1, 2, 3, 4, 6, 8)
LOADS_OHM = np.geomspace(0.5, 3e7, 30)
#: Loads that may fail to settle (a choke ringing with a dried reservoir at next to no load); the curve bridges them.
LOADS_TO_SPARE = 3
#: A reservoir that has dried out or come off still leaves the wiring's capacitance.
LEAST_RESERVOIR_F = 1e-9


@dataclass(frozen=True)
class SupplySpec:
    """What settles a supply's regulation curve. `waves` is 2 for full wave (center tap or bridge), 1 for half wave."""

    open_circuit_V: float  # RMS, per side
    source_ohm: float  # per side
    perveance: float
    threshold_V: float
    waves: int
    mains_Hz: float
    reservoir_F: float
    choke_H: float = 0.0
    choke_ohm: float = 0.0
    second_section: float = 1.0  # the second plate's perveance as a share of the first's (0: open)
    next_ohm: float = 0.0  # of a failed reservoir: impedance at the ripple's frequency to the next filter capacitor


@dataclass(frozen=True)
class SupplyCurve:
    """Currents, ripple and peaks on an even grid of output volts from 0 to `top_V`. Arrays have CURVE_POINTS entries.

    harmonics_V: complex amplitude of the ripple at the multiples HARMONICS of the mains frequency,
    shape (len(HARMONICS), CURVE_POINTS).
    """

    top_V: float
    current_A: Array
    slope_S: Array
    ripple_pp_V: Array
    peak_A: Array
    rms_A: Array
    harmonics_V: NDArray[np.complex128]

    def at(self, output_V: float, table: Array) -> float:
        """One of the tables at a given output level (linear between entries)."""
        grid = np.linspace(0.0, self.top_V, CURVE_POINTS)
        return float(np.interp(output_V, grid, table))

    def level(self, load_A: float) -> float:
        """Output volts at a given load current."""
        order = np.argsort(self.current_A)
        grid = np.linspace(0.0, self.top_V, CURVE_POINTS)
        return float(np.interp(load_A, self.current_A[order], grid[order]))


@dataclass(frozen=True)
class Steady:
    """The steady state at each load: arrays over LOADS."""

    level_V: Array
    current_A: Array
    ripple_pp_V: Array
    peak_A: Array
    rms_A: Array
    harmonics_V: NDArray[np.complex128]
    converged: NDArray[np.bool_]


@lru_cache(maxsize=4096)
def curve(spec: SupplySpec) -> SupplyCurve:
    """The regulation curve of one supply; a pure function, kept because many faults share one."""
    return curves([spec])[0]


def curves(specs: list[SupplySpec]) -> list[SupplyCurve]:
    """The regulation curves of several supplies, solved together. Raises ArithmeticError when one does not settle."""
    whole = [spec for spec in specs if not spec.next_ohm]
    found = iter(_whole_curves(whole) if whole else ())
    return [_failed_curve(spec) if spec.next_ohm else next(found) for spec in specs]


def _failed_curve(spec: SupplySpec) -> SupplyCurve:
    volts, amps = cycle(
        spec.open_circuit_V, spec.source_ohm, spec.perveance, spec.threshold_V, spec.waves, spec.mains_Hz,
        spec.reservoir_F, spec.next_ohm, spec.second_section,
    )  # fmt: skip
    mean = amps.mean(axis=0)
    steady = Steady(
        volts.mean(axis=0)[None], mean[None], np.ptp(volts, axis=0)[None], amps.max(axis=0)[None],
        np.sqrt((amps**2).mean(axis=0))[None],
        (np.fft.rfft(volts, axis=0)[list(HARMONICS)] * 2.0 / len(volts))[:, None],
        (volts.mean(axis=0) > 0.0)[None],
    )  # fmt: skip
    return _curve(0, steady, _no_load_V(spec))


def _whole_curves(specs: list[SupplySpec]) -> list[SupplyCurve]:
    loads = np.tile(LOADS_OHM, (len(specs), 1))
    steady = steady_state(specs, loads)
    missing = (~steady.converged).sum(axis=1)
    if (missing > LOADS_TO_SPARE).any():
        raise ArithmeticError(f"the supply's steady state was not found for {specs[int(missing.argmax())]}")
    return [_curve(index, steady, _no_load_V(spec)) for index, spec in enumerate(specs)]


def _no_load_V(spec: SupplySpec) -> float:
    """With nothing drawn the reservoir sits at the peak, whatever its size."""
    return max(spec.open_circuit_V * float(np.sqrt(2.0)) - spec.threshold_V, 0.0)


def steady_state(specs: list[SupplySpec], loads_ohm: Array, rounds: int = 40) -> Steady:
    """Periodic steady state of each supply at each load; `loads_ohm` has shape (supplies, loads)."""

    def column(values: list[float]) -> Array:
        return np.array(values, dtype=float)[:, None]

    perveance = column([max(s.perveance, 1e-12) for s in specs])
    second = np.maximum(perveance * column([s.second_section for s in specs]), 1e-12)
    threshold = column([s.threshold_V for s in specs])
    source = column([s.source_ohm + s.choke_ohm for s in specs])
    inductance = column([s.choke_H for s in specs])
    capacity = column([max(s.reservoir_F, LEAST_RESERVOIR_F) for s in specs])
    period = column([1.0 / s.mains_Hz for s in specs])
    peak_V = column([s.open_circuit_V * np.sqrt(2.0) for s in specs])
    full = column([1.0 if s.waves == 2 else 0.0 for s in specs]) > 0

    step = period / STEPS
    # The trapezoidal rule rings where the reservoir settles within a step; there the step looks ahead only.
    stiff = step > capacity * np.minimum(loads_ohm, np.maximum(source, 1.0))
    ahead, behind = np.where(stiff, 1.0, 0.5), np.where(stiff, 0.0, 0.5)
    a, a_behind = ahead * step / (loads_ohm * capacity), behind * step / (loads_ohm * capacity)
    b, b_behind = ahead * step / capacity, behind * step / capacity
    choke = 2.0 * inductance / step
    has_choke = inductance > 0
    shape = loads_ohm.shape
    start_v = np.broadcast_to(0.8 * peak_V, shape).copy()
    start_i = np.where(has_choke, start_v / loads_ohm, 0.0)
    phases = np.sin(2.0 * np.pi * (np.arange(STEPS + 1) / STEPS))
    converged = np.zeros(shape, dtype=bool)
    volts = np.empty((STEPS, *shape))
    amps = np.empty((STEPS, *shape))

    for _ in range(rounds):
        v, i = start_v.copy(), start_i.copy()
        # Sensitivities of (v, i) to the starting (v, i).
        vv, vi = np.ones(shape), np.zeros(shape)
        iv, ii = np.zeros(shape), np.where(has_choke, 1.0, 0.0) * np.ones(shape)
        e = np.zeros(shape)
        ev, ei = np.zeros(shape), np.zeros(shape)
        for n in range(1, STEPS + 1):
            wave = phases[n]
            drive = peak_V * (np.where(full, abs(wave), wave)) - threshold
            p = second if n > STEPS // 2 else perveance
            # v1 (1 + a) = base + b i1, and for the rectifier's loop, with i1 = p w^3:
            # drive - source i1 - w^2 - v1 = choke (i1 - i) - e   (e: loop volts left on the choke at the last step)
            base = v * (1.0 - a_behind) + b_behind * i
            base_v, base_i = vv * (1.0 - a_behind) + b_behind * iv, vi * (1.0 - a_behind) + b_behind * ii
            level = base / (1.0 + a)
            force = drive - level + choke * i + e
            cubic = p * (source + choke + b / (1.0 + a))
            positive = np.maximum(force, 0.0)
            w = np.minimum(np.sqrt(positive), np.cbrt(positive / cubic))
            for _ in range(4):
                w = w - (w * w * (1.0 + cubic * w) - positive) / np.maximum(w * (2.0 + 3.0 * cubic * w), 1e-30)
            w = np.maximum(w, 0.0)
            i1 = p * w**3
            slope = np.where(force > 0.0, p * 1.5 * w / (1.0 + 1.5 * cubic * w), 0.0)
            force_v = -base_v / (1.0 + a) + choke * iv + ev
            force_i = -base_i / (1.0 + a) + choke * ii + ei
            iv1, ii1 = slope * force_v, slope * force_i
            v1 = level + b / (1.0 + a) * i1
            vv, vi = base_v / (1.0 + a) + b / (1.0 + a) * iv1, base_i / (1.0 + a) + b / (1.0 + a) * ii1
            on = has_choke & (i1 > 0.0)
            ev = np.where(on, choke * (iv1 - iv) - ev, 0.0)
            ei = np.where(on, choke * (ii1 - ii) - ei, 0.0)
            e = np.where(on, choke * (i1 - i) - e, 0.0)
            v, i, iv, ii = v1, i1, iv1, ii1
            volts[n - 1], amps[n - 1] = v, i
        miss_v, miss_i = v - start_v, np.where(has_choke, i - start_i, 0.0)
        scale = np.abs(start_v) + 1e-3
        converged = (np.abs(miss_v) < 1e-7 * scale) & (np.abs(miss_i) < 1e-6 * (np.abs(start_i) + 1e-6))
        if converged.all():
            break
        # Newton step on (v, i): solve (I - M) d = miss.
        m11, m12 = 1.0 - vv, -vi
        m21, m22 = -iv, np.where(has_choke, 1.0 - ii, 1.0)
        m12, m21 = np.where(has_choke, m12, 0.0), np.where(has_choke, m21, 0.0)
        det = m11 * m22 - m12 * m21
        start_v = np.clip(start_v + (miss_v * m22 - m12 * miss_i) / det, 0.0, None)
        start_i = np.clip(start_i + (m11 * miss_i - m21 * miss_v) / det, 0.0, None)
        start_v = np.minimum(start_v, 1.5 * peak_V)
    mean = volts.mean(axis=0)
    spectrum = np.fft.rfft(volts, axis=0)[list(HARMONICS)] * 2.0 / STEPS
    return Steady(
        mean,
        mean / loads_ohm,
        np.ptp(volts, axis=0),
        amps.max(axis=0),
        np.sqrt((amps**2).mean(axis=0)),
        spectrum,
        converged,
    )


def _curve(index: int, steady: Steady, no_load_V: float) -> SupplyCurve:
    good = np.flatnonzero(steady.converged[index])
    level = steady.level_V[index]
    known, first = np.unique(level[good], return_index=True)
    order = good[first]
    top = max(no_load_V, float(known[-1]) * 1.001)
    known = np.append(known, top)
    grid = np.linspace(0.0, top, CURVE_POINTS)

    def even(table: Array) -> Array:
        values, _ = _monotone(known, np.append(table[order], 0.0), grid)
        return values

    current, slope = _monotone(known, np.append(steady.current_A[index][order], 0.0), grid)
    harmonics = np.stack([even(row.real) + 1j * even(row.imag) for row in steady.harmonics_V[:, index]])
    # what can't be below zero is kept from the interpolation's last bit of swing toward the end without load
    tables = (steady.ripple_pp_V, steady.peak_A, steady.rms_A)
    ripple, peak, rms = (np.maximum(even(table[index]), 0.0) for table in tables)
    return SupplyCurve(top, current, slope, ripple, peak, rms, harmonics)


def _monotone(x: Array, y: Array, at: Array) -> tuple[Array, Array]:
    """Shape-preserving cubic interpolation (Fritsch and Carlson's slopes) and its slope."""
    step = np.diff(x)
    secant = np.diff(y) / step
    before, after = secant[:-1], secant[1:]
    weight = step[:-1] + step[1:]
    inner = np.where(
        before * after > 0,
        3.0 * weight / ((weight + step[1:]) / np.where(before == 0, 1, before)
                        + (weight + step[:-1]) / np.where(after == 0, 1, after)),
        0.0,
    )  # fmt: skip
    slope = np.concatenate([[secant[0]], inner, [secant[-1]]])
    return hermite(x, y, slope, at)


def hermite(x: Array, y: Array, slope: Array, at: Array) -> tuple[Array, Array]:
    """Cubic through (x, y) with given slopes; straight on outside. Returns values and slopes at `at`."""
    cell = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    h = x[cell + 1] - x[cell]
    t = np.clip((at - x[cell]) / h, 0.0, 1.0)
    y0, y1, m0, m1 = y[cell], y[cell + 1], slope[cell] * h, slope[cell + 1] * h
    value = (
        y0 * (2 * t**3 - 3 * t**2 + 1) + m0 * (t**3 - 2 * t**2 + t)
        + y1 * (-2 * t**3 + 3 * t**2) + m1 * (t**3 - t**2)
    )  # fmt: skip
    rate = (
        y0 * (6 * t**2 - 6 * t) + m0 * (3 * t**2 - 4 * t + 1) + y1 * (6 * t - 6 * t**2) + m1 * (3 * t**2 - 2 * t)
    ) / h
    outside = np.where(at < x[0], at - x[0], np.where(at > x[-1], at - x[-1], 0.0))
    return value + outside * rate, rate
