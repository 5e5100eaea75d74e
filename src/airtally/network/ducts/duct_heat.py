"""Heat that a duct run gains or loses in a crawlspace or attic, as found and with insulation."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi

from airtally.errors import InputError, require_positive
from airtally.estimates import Estimate
from airtally.house.passages import DuctSide, Insulation
from airtally.network.spread import default, spread
from airtally.physics.constants import STANDARD_AIR_DENSITY
from airtally.physics.ducts.heat import conduction_fraction, duct_exit_temperature, duct_heat_loss

RESISTANCE_PER_R = 0.3048**2 * (5.0 / 9.0) * 3600.0 / 1055.05585262
"""One h ft2 degF/Btu. [m2 K/W], exact but for the Btu"""


def _rated(middle: float, low: float, high: float, said: str) -> Estimate:
    r = RESISTANCE_PER_R
    return default(middle * r, low * r, high * r, "m2 K/W", said)


RESISTANCES = {
    Insulation.BARE: _rated(1.0, 0.5, 1.5, "bare metal, air films only: common practice, no source"),
    Insulation.R4: _rated(4.2, 3.0, 5.0, "R-4.2 as labelled; compression and age take some: judgement"),
    Insulation.R6: _rated(6.0, 4.5, 7.0, "R-6 as labelled; compression and age take some: judgement"),
    Insulation.R8: _rated(8.0, 6.0, 9.0, "R-8 as labelled; compression and age take some: judgement"),
    Insulation.UNKNOWN: _rated(2.5, 0.5, 8.0, "insulation not known: bare to R-8"),
}
"""Thermal resistance with its films. [m2 K/W]

Model code asks for R-8 on attic supplies and R-6 on other ducts outside the envelope [IRC2018]; editions differ.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctRun:
    """One run through a space that is not conditioned.

    Attributes
    ----------
    name : str
        Of the run.
    side : DuctSide
        Supply or return.
    length, width, depth : Estimate, Estimate, Estimate or None
        Without depth the duct is round. [m]
    flow : Estimate
        Air in it. [m3/s]
    inlet_temperature, ambient_temperature : Estimate
        Entering air, and around the duct; absolute. [K]
    resistance : Estimate
        Insulation with films. [m2 K/W]
    air_density : float
        Of the air in it. [kg/m3]
    """

    name: str
    side: DuctSide
    length: Estimate
    width: Estimate
    flow: Estimate
    inlet_temperature: Estimate
    ambient_temperature: Estimate
    resistance: Estimate
    depth: Estimate | None = None
    air_density: float = STANDARD_AIR_DENSITY


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctHeat:
    """What a run does to its air.

    Attributes
    ----------
    run : DuctRun
        As computed with.
    exit_temperature : Estimate
        Absolute. [K]
    temperature_change : Estimate
        Exit less inlet: negative cools on the way. [K]
    heat_loss : Estimate
        Negative for a gain. [W]
    """

    run: DuctRun
    exit_temperature: Estimate
    temperature_change: Estimate
    heat_loss: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class InsulatedDuct:
    """A run as found and insulated. ``saved`` is heat that no longer passes the wall, either way [W]."""

    found: DuctHeat
    insulated: DuctHeat
    saved: Estimate


def surface_area(length: float, width: float, depth: float | None = None) -> float:
    """Return the surface of a run from its inside measures; without depth it is round. [m2]"""
    return length * (pi * width if depth is None else 2.0 * (width + depth))


def duct_heat(run: DuctRun) -> DuctHeat:
    """Return exit temperature, change and loss of a run with their intervals.

    Raises
    ------
    InputError
        If flow or resistance is not above zero or a measure below zero.

    Notes
    -----
    Valid: steady flow, one temperature around the run, no leaks: what leaks is the business of the duct leakage.
    Checked against: table of check values for 8 in x 30 ft, R-1 to R-8, and worked example E12.
    """
    require_positive(width=run.width.low, inlet=run.inlet_temperature.low, ambient=run.ambient_temperature.low)
    if run.length.low < 0.0:
        raise InputError(f"length must not be below zero; given {run.length.low:g} m")
    inputs = (
        run.inlet_temperature, run.ambient_temperature, run.flow, run.resistance, run.length, run.width,
        *(() if run.depth is None else (run.depth,)),
    )  # fmt: skip

    def left(inlet: float, around: float, flow: float, resistance: float, *measures: float) -> float:
        kept = conduction_fraction(surface_area(*measures), flow, resistance, run.air_density)
        return float(duct_exit_temperature(inlet, around, kept))

    def lost(inlet: float, around: float, flow: float, resistance: float, *measures: float) -> float:
        return float(duct_heat_loss(inlet, left(inlet, around, flow, resistance, *measures), flow, run.air_density))

    said = f"conduction along {run.name}; {run.resistance.source}"
    return DuctHeat(
        run=run,
        exit_temperature=spread(left, *inputs, unit="K", source=said),
        temperature_change=spread(lambda inlet, *rest: left(inlet, *rest) - inlet, *inputs, unit="K", source=said),
        heat_loss=spread(lost, *inputs, unit="W", source=said),
    )


def insulate(run: DuctRun, to: Insulation | Estimate) -> InsulatedDuct:
    """Return a run as found and with another resistance, and what that saves.

    Parameters
    ----------
    run : DuctRun
        As found.
    to : Insulation or Estimate
        What it is wrapped in, or its resistance [m2 K/W].

    Raises
    ------
    InputError
        As :func:`duct_heat`.

    Notes
    -----
    Everything but the resistance is shared by both, so that its doubt counts once in what is saved.
    """
    resistance = to if isinstance(to, Estimate) else RESISTANCES[to]
    changed = replace(run, resistance=resistance)
    measures = (run.length, run.width, *(() if run.depth is None else (run.depth,)))

    def saved(inlet: float, around: float, flow: float, before: float, after: float, *size: float) -> float:
        heat = []
        for value in (before, after):
            kept = conduction_fraction(surface_area(*size), flow, value, run.air_density)
            out = duct_exit_temperature(inlet, around, kept)
            heat.append(abs(float(duct_heat_loss(inlet, out, flow, run.air_density))))
        return heat[0] - heat[1]

    return InsulatedDuct(
        found=duct_heat(run),
        insulated=duct_heat(changed),
        saved=spread(
            saved, run.inlet_temperature, run.ambient_temperature, run.flow, run.resistance, resistance, *measures,
            unit="W", source=f"{run.name}: {run.resistance.source}, then {resistance.source}",
        ),
    )  # fmt: skip
