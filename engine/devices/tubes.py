"""Tube laws: how many amperes flow into each electrode at given volts, with slopes, for whole batches.

Triodes and pentodes follow the equations of "Improved vacuum tube models for SPICE simulations",
Glass Audio vol. 8 no. 5 (1996) p. 18. Three things are our own and are stated here:
- the grid current is one smooth curve, exponential below its onset (retarding field of a hot cathode) and a
  3/2-power law above, so that Newton's method has no kink to trip over;
- a pentode's plate current gets a finite slope (`slope_per_V`), since the arctangent alone gives plate
  resistances two to three times the published ones;
- the screen takes over most of the current when the plate falls below the knee, as it does on the bench.

All functions take arrays that broadcast together and return currents in amperes and slopes in siemens.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Share of the plate current that the screen takes over when the plate volts are zero (bench practice: a tube with
#: an open plate circuit glows at the screen; no source gives the figure).
SCREEN_TAKEOVER = 0.6
#: Width in volts of the rounding of a pentode's plate current near zero plate volts.
PLATE_ROUNDING_V = 0.3


@dataclass(frozen=True)
class Triode:
    """Constants of one triode section. `grid_A`, `grid_onset_V`, `grid_width_V` shape the grid current."""

    mu: float
    x: float
    kg1: float
    kp: float
    kvb: float
    grid_A: float = 5e-4
    grid_onset_V: float = -0.3
    grid_width_V: float = 0.15
    grid_plate_F: float = 1.7e-12
    grid_cathode_F: float = 1.6e-12
    plate_cathode_F: float = 0.5e-12


@dataclass(frozen=True)
class Pentode:
    """Constants of one pentode or beam tube; `kg2` and `slope_per_V` as in the module's text."""

    mu: float
    x: float
    kg1: float
    kg2: float
    kp: float
    kvb: float
    slope_per_V: float = 0.0
    grid_A: float = 1e-3
    grid_onset_V: float = -0.3
    grid_width_V: float = 0.15
    grid_plate_F: float = 0.5e-12
    grid_cathode_F: float = 12e-12
    plate_cathode_F: float = 8e-12


@dataclass(frozen=True)
class Flow:
    """Currents into grid, plate and screen (A) and the slopes d(current)/d(volts to cathode) (S).

    `slope[i][j]` is the slope of current i by voltage j, in the order grid, plate, screen.
    """

    current: tuple[Array, ...]
    slope: tuple[tuple[Array, ...], ...]


def softplus(x: Array) -> Array:
    """ln(1 + exp(x)) without overflow."""
    result: Array = np.maximum(x, 0.0) + np.log1p(np.exp(-np.abs(x)))
    return result


def logistic(x: Array) -> Array:
    """Slope of `softplus`."""
    tail = np.exp(-np.abs(x))
    result: Array = np.where(x >= 0, 1.0, tail) / (1.0 + tail)
    return result


def grid_current(volts: Array, model: Any) -> tuple[Array, Array]:
    """Electron current into the grid (A) and its slope (S) at `volts` grid to cathode."""
    x = (volts - model.grid_onset_V) / model.grid_width_V
    drive = model.grid_width_V * softplus(x)
    root = np.sqrt(drive)
    return model.grid_A * drive * root, 1.5 * model.grid_A * root * logistic(x)


def _fed_grid(volts: Array, model: Any, emission: Any) -> tuple[Array, Array]:
    """The same of a tube whose cathode may be spent: it gives a grid no more than it gives the plate."""
    fed = np.minimum(emission, 1.0)
    current, slope = grid_current(volts, model)
    return fed * current, fed * slope


def triode(grid_V: Array, plate_V: Array, model: Any, emission: Any = 1.0, gas: Any = 0.0) -> Flow:
    """Currents of a triode. `gas` is the share of the plate current that leaves by the grid as ions.

    `model` is a `Triode`, or anything with the same attributes as arrays (one entry a section).
    """
    root = np.sqrt(model.kvb + plate_V**2)
    x = model.kp * (1.0 / model.mu + grid_V / root)
    soft, sigma = softplus(x), logistic(x)
    drive = np.maximum(plate_V / model.kp * soft, 0.0)
    on = drive > 0.0
    scale = emission * 2.0 / model.kg1
    power = np.where(on, drive, 1.0) ** (model.x - 1.0) * on
    plate = scale * drive * power
    d_drive = scale * model.x * power
    plate_by_grid = d_drive * plate_V / root * sigma
    plate_by_plate = d_drive * (soft / model.kp - sigma * grid_V * plate_V**2 / root**3)
    grid, grid_by_grid = _fed_grid(grid_V, model, emission)
    return Flow(
        (grid - gas * plate, plate),
        ((grid_by_grid - gas * plate_by_grid, -gas * plate_by_plate), (plate_by_grid, plate_by_plate)),
    )


def pentode(grid_V: Array, plate_V: Array, screen_V: Array, model: Any, emission: Any = 1.0, gas: Any = 0.0) -> Flow:
    """Currents of a pentode or beam tube; arguments as for `triode`."""
    root = np.sqrt(100.0 + screen_V**2)
    x = model.kp * (1.0 / model.mu + grid_V / root)
    soft, sigma = softplus(x), logistic(x)
    drive = np.maximum(screen_V / model.kp * soft, 0.0)
    on = drive > 0.0
    power = np.where(on, drive, 1.0) ** (model.x - 1.0) * on
    space = emission * 2.0 * drive * power
    d_space = emission * 2.0 * model.x * power
    space_by_grid = d_space * screen_V / root * sigma
    space_by_screen = d_space * (soft / model.kp - sigma * grid_V * screen_V**2 / root**3)

    y = plate_V / PLATE_ROUNDING_V
    above = PLATE_ROUNDING_V * softplus(y)
    d_above = logistic(y)
    angle = np.arctan(above / model.kvb)
    d_angle = d_above * model.kvb / (model.kvb**2 + above**2)
    tilt = 1.0 + model.slope_per_V * above
    share = angle * tilt / model.kg1
    d_share = (d_angle * tilt + angle * model.slope_per_V * d_above) / model.kg1
    takeover = SCREEN_TAKEOVER * np.pi / 2.0 / model.kg1
    screen_share = 1.0 / model.kg2 + takeover * (1.0 - 2.0 / np.pi * angle)
    d_screen_share = -takeover * 2.0 / np.pi * d_angle

    plate, screen = space * share, space * screen_share
    grid, grid_by_grid = _fed_grid(grid_V, model, emission)
    plate_slopes = (space_by_grid * share, space * d_share, space_by_screen * share)
    screen_slopes = (
        space_by_grid * screen_share,
        space * d_screen_share,
        space_by_screen * screen_share,
    )
    return Flow(
        (grid - gas * plate, plate, screen),
        (
            (grid_by_grid - gas * plate_slopes[0], -gas * plate_slopes[1], -gas * plate_slopes[2]),
            plate_slopes,
            screen_slopes,
        ),
    )


def scalar_flow(model: Triode | Pentode, grid_V: float, plate_V: float, screen_V: float = 0.0) -> Flow:
    """The same for one tube at one point (V to cathode)."""
    grid, plate, screen = np.float64(grid_V), np.float64(plate_V), np.float64(screen_V)
    if isinstance(model, Triode):
        return triode(np.asarray(grid), np.asarray(plate), model)
    return pentode(np.asarray(grid), np.asarray(plate), np.asarray(screen), model)
