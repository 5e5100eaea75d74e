"""Gas and wall of a flue while a fire comes up, burns and dies: temperatures, pull and losses.

The gas enters with the fire's warmth, which comes and goes exponentially, and cools along the height towards one
wall temperature; the wall follows, exponentially and slower, the balance between gas and surroundings. Within each
of the two phases the wall's equation has a closed solution, so no step length enters.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from math import log

import numpy as np

from airtally.arrays import Floats, Number
from airtally.errors import require_positive
from airtally.estimates import Basis, Estimate
from airtally.network.flues.flue import Flue, Surroundings
from airtally.network.spread import default
from airtally.physics.air.gas import air_viscosity
from airtally.physics.air.moist import air_density
from airtally.physics.constants import HEAT_CAPACITY
from airtally.physics.ducts.fittings import velocity_pressure
from airtally.physics.ducts.friction import friction_factor_colebrook, reynolds_number
from airtally.physics.flues.draft import theoretical_draft
from airtally.physics.guards import require_not_negative

GAS_AS_AIR = default(1.0, 0.97, 1.03, "-", "flue gas taken as dry air, 1 to 3 % off")
"""Pull of flue gas over that of air as warm. [-]"""
SMALLEST = 1e-9
"""Stands for a flow or a cooling number of nothing where a formula divides by it."""

Inputs = Mapping[str, Number]
"""The model's inputs by name: numbers, or columns of shape (M, 1) for M cases at once, which the points run along."""
Points = Callable[[Inputs], tuple[Floats, Floats]]
"""From the model's inputs to seconds burnt and seconds since nothing was put on any more, one a point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueGas:
    """What the model gives at each point.

    Attributes
    ----------
    temperature : array
        Absolute temperature of the gas whose density is the mean over the height. [K]
    wall : array
        Absolute temperature of the inner wall. [K]
    flow : array
        Room air drawn, at the density of the room. [m3/s]
    pull : array
        Theoretical draft. [Pa]
    losses : array
        Friction, bends, throat and cap at that flow, positive. [Pa]
    resistance : array
        Losses over the square of the room air drawn, of the idle flue too. [Pa s2/m6]
    """

    temperature: Floats
    wall: Floats
    flow: Floats
    pull: Floats
    losses: Floats
    resistance: Floats


def mean_gas_temperature(entering: Floats, wall: Floats, cooling_number: Floats) -> Floats:
    r"""Return the temperature at which a column of gas weighs what one does that cools along its way.

    .. math:: T(x) = T_w + (T_e - T_w) e^{-x}, \quad \bar T = X / \int_0^X dx / T(x)
        = \frac{X T_w}{X + \ln[(T_w + (T_e - T_w) e^{-X}) / T_e]}

    Parameters
    ----------
    entering, wall : array
        Absolute temperatures of entering gas and wall, T_e and T_w. [K]
    cooling_number : array
        Film times surface over heat capacity flow, X; 0 does not cool. [-]

    Raises
    ------
    InputError
        If a temperature is not above zero or a cooling number below zero.

    Notes
    -----
    Valid: one wall temperature over the height. Here the mean keeps the weight of the column; that of
    :func:`~airtally.physics.flues.cooling.mean_flue_temperature` keeps its heat and lies above.
    Checked against: numerical integration.
    """
    require_positive(entering=entering, wall=wall)
    require_not_negative(cooling_number=cooling_number)
    number = np.maximum(cooling_number, SMALLEST)
    left = (wall + (entering - wall) * np.exp(-number)) / entering
    mean: Floats = np.where(cooling_number > SMALLEST * 1e3, number * wall / (number + np.log(left)), entering)
    return mean


def wall_temperature(
    time: Floats,
    at_first: Number,
    wall_time: Number,
    gas_share: Number,
    surroundings: Number,
    gas_at_last: Number,
    gas_change: Number,
    gas_time: Number,
) -> Floats:
    r"""Return the wall while the gas goes exponentially from one temperature to another.

    .. math:: \tau T_w' + T_w = w T_g(t) + (1-w) T_s, \quad T_g = A + B e^{-t/\tau_g}

    Parameters
    ----------
    time : array
        Since the phase began. [s]
    at_first : float or array
        Wall temperature then. [K]
    wall_time, gas_time : float or array
        Time constants of wall and gas, tau and tau_g. [s]
    gas_share : float or array
        Weight of the gas in the wall's balance, w. [-]
    surroundings : float or array
        Temperature around the flue, T_s. [K]
    gas_at_last, gas_change : float or array
        Where the gas goes, A, and how far it is from there at first, B. [K]

    Notes
    -----
    Checked against: steps of one second.
    """
    last = gas_share * gas_at_last + (1.0 - gas_share) * surroundings
    slow = np.exp(-time / wall_time)
    apart = np.asarray(gas_time - wall_time)
    is_alike = np.abs(apart) < 1e-6 * wall_time
    lag = np.where(
        is_alike,
        time / wall_time * slow,
        gas_time * (np.exp(-time / gas_time) - slow) / np.where(is_alike, 1.0, apart),
    )
    wall: Floats = last + (at_first - last) * slow + gas_share * gas_change * lag
    return wall


def flue_gas(flue: Flue, around: Surroundings, values: Inputs, points: Points) -> FlueGas:
    """Return gas and wall of a flue at points of its fire.

    Parameters
    ----------
    flue : Flue
        Gives roughness and whether the flue is round.
    around : Surroundings
        Gives the air pressure of the site.
    values : mapping
        Every estimate of flue and surroundings as a number or a column of numbers, by attribute name. [SI]
    points : callable
        Seconds burnt and seconds dying at each point; a point of no seconds at all is the idle, cold flue.

    Raises
    ------
    InputError
        If a section, a temperature or a time constant is not above zero or the height below zero.

    Notes
    -----
    Valid: one wall temperature over the height; flow in the wall's balance is that of the phase, not of the moment;
    a fire draws no more than its flue carries in a level house (the gas is then taken as warm as before); no
    reversal: what happens after the flow turned is not in it.
    """
    require_not_negative(height=values["height"], burning_flow=values["burning_flow"])
    require_positive(
        width=values["width"], lighting_time=values["lighting_time"], dying_time=values["dying_time"],
        wall_time=values["wall_time"], burning_temperature=values["burning_temperature"],
    )  # fmt: skip
    burnt, dying = (np.asarray(one, dtype=float) for one in points(values))
    room, outside = values["indoor_temperature"], values["outdoor_temperature"]
    surface = _section(values)[1] * values["height"]
    density = air_density(room, 0.0, around.site_pressure)
    held = values["outdoor_share"] * outside + (1.0 - values["outdoor_share"]) * room
    rise = values["burning_temperature"] - room

    def cooling(flow: Floats) -> Floats:
        number: Floats = (
            values["gas_film"] * surface / (density * HEAT_CAPACITY * np.maximum(np.asarray(flow, float), SMALLEST))
        )
        return number

    def gas_share(flow: Number) -> Floats:
        given = density * HEAT_CAPACITY * flow * (1.0 - np.exp(-cooling(np.asarray(flow))))
        both = np.asarray(given + values["wall_loss"] * surface)
        share: Floats = np.where(both > 0.0, given / np.where(both > 0.0, both, 1.0), 0.0)
        return share

    full = values["burning_flow"]
    fire_at_end = 1.0 - np.exp(-burnt / values["lighting_time"])
    warmth = fire_at_end * np.exp(-dying / values["dying_time"])
    entering = room + rise * warmth
    after_burn = wall_temperature(
        burnt, held, values["wall_time"], gas_share(full), held, room + rise, -rise, values["lighting_time"]
    )
    share = gas_share(full * values["dying_share"])
    fading = np.exp(-dying / values["wall_time"])
    # The wall's equation is linear: what the wall was, and what the fading gas adds, stand side by side.
    unit = wall_temperature(dying, 0.0, values["wall_time"], share, 0.0, 0.0, 1.0, values["dying_time"])
    last = share * room + (1.0 - share) * held
    wall = last + (after_burn - last) * fading + unit * rise * fire_at_end
    flow = full * (values["dying_share"] + (1.0 - values["dying_share"]) * warmth)
    is_idle = (burnt <= 0.0) & (dying <= 0.0)
    flow = np.where(is_idle, 0.0, flow)
    gas = np.where(is_idle, wall, mean_gas_temperature(entering, wall, cooling(flow)))
    column = np.asarray(theoretical_draft(values["height"], outside, gas, around.site_pressure))
    pull = values["gas_as_air"] * column
    resistance = _resistance(flue, around, values, np.where(is_idle, full, flow), gas)
    losses = resistance * flow**2
    carried = np.maximum(pull, 0.0)
    # No fire draws more than its own flue carries in a level house: losses go with the square of the flow.
    kept = np.where(losses > carried, np.sqrt(carried / np.maximum(losses, SMALLEST)), 1.0)
    return FlueGas(
        temperature=gas, wall=wall, flow=flow * kept, pull=pull, losses=np.minimum(losses, carried),
        resistance=resistance,
    )  # fmt: skip


def _section(values: Inputs) -> tuple[Number, Number]:
    """Return inside area [m2] and perimeter [m]."""
    width = values["width"]
    if "depth" in values:
        require_positive(depth=values["depth"])
        return width * values["depth"], 2.0 * (width + values["depth"])
    return np.pi * width**2 / 4.0, np.pi * width


def _resistance(flue: Flue, around: Surroundings, values: Inputs, flow: Floats, gas: Floats) -> Floats:
    """Return losses over the square of the room air drawn, friction at a flow. [Pa s2/m6]"""
    area, perimeter = _section(values)
    diameter = 4.0 * area / perimeter
    per_flow = gas / values["indoor_temperature"] / area
    density = np.asarray(air_density(gas, 0.0, around.site_pressure))
    number = reynolds_number(np.maximum(flow * per_flow, SMALLEST), diameter, density, air_viscosity(gas))
    friction = friction_factor_colebrook(number, flue.roughness / diameter) * values["height"] / diameter
    return np.asarray((values["loss_coefficient"] + friction) * velocity_pressure(per_flow, density))


def inputs_of(flue: Flue, around: Surroundings) -> dict[str, Estimate]:
    """Return every estimate of flue and surroundings by attribute name that bears on its own gas."""
    found = {
        field.name: getattr(noun, field.name)
        for noun in (flue, around)
        for field in fields(noun)
        if isinstance(getattr(noun, field.name), Estimate)
    }
    used = {name: one for name, one in found.items() if name not in ("baseline", "wind", "wanted_draft")}
    return used | {"gas_as_air": GAS_AS_AIR}


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Values with the ends of their intervals, one a point."""

    value: Floats
    low: Floats
    high: Floats


def spread_over(
    formula: Callable[[Inputs], Floats], inputs: Mapping[str, Estimate], *, keeps_sign: bool = False
) -> Band:
    """Return what a formula of many points gives for estimates, as :func:`airtally.network.spread.spread` does.

    Each input is moved to its two ends alone; the moves are added in quadrature, up and down apart. The formula is
    asked once for all of them.

    Parameters
    ----------
    formula : callable
        From inputs by name, columns of shape (M, 1), to values of shape (..., M, points).
    inputs : mapping
        Independent inputs by name.
    keeps_sign : bool
        Where no single input turns the sign of the value, their sum may not either: for differences that can vanish
        but not turn, as when a flue that is full carries more flow instead of pulling harder.
    """
    moved = [(name, end) for name, one in inputs.items() if one.low < one.high for end in (one.low, one.high)]
    columns = {name: np.full((len(moved) + 1, 1), one.value) for name, one in inputs.items()}
    for row, (name, end) in enumerate(moved, start=1):
        columns[name][row] = end
    found = formula(columns)
    value, ends = found[..., 0, :], found[..., 1:, :]
    steps = (ends - value[..., None, :]).reshape(*value.shape[:-1], len(moved) // 2, 2, value.shape[-1])
    low = value - np.sqrt((steps.min(axis=-2, initial=0.0) ** 2).sum(axis=-2))
    high = value + np.sqrt((steps.max(axis=-2, initial=0.0) ** 2).sum(axis=-2))
    if keeps_sign:
        low = np.where(found.min(axis=-2) >= 0.0, np.maximum(low, 0.0), low)
        high = np.where(found.max(axis=-2) <= 0.0, np.minimum(high, 0.0), high)
    return Band(value=value, low=low, high=high)


def estimate_at(band: Band, index: tuple[int, ...], unit: str, source: str, level: float) -> Estimate:
    """Return one point of a band."""
    value, low, high = (float(one[index]) for one in (band.value, band.low, band.high))
    return Estimate(
        value=value, low=low, high=high, unit=unit, basis=Basis.COMPUTED, source=source, level=level,
    )  # fmt: skip


def after_share(values: Inputs, warmth: float) -> tuple[Number, Number]:
    """Return seconds of lighting until the fire gives a share of its warmth, and of dying until only that is left."""
    return -values["lighting_time"] * log(1.0 - warmth), -values["dying_time"] * log(warmth)
