"""A flue as survey and judgement have it: shape, wall, fire, and what surrounds it; every default with its interval."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from airtally.errors import Problem, Severity
from airtally.estimates import Estimate
from airtally.house.passages import FluePlace, FlueWall
from airtally.network.spread import default, spread
from airtally.physics.constants import STANDARD_PRESSURE
from airtally.physics.leaks.tightness import REFERENCE_HEIGHT
from airtally.physics.pressures.stack import stack_pressure

MINUTE = 60.0
HOUR = 3600.0


class Firing(StrEnum):
    """What burns below the flue."""

    OPEN_FIREPLACE = "open fireplace"
    """Draws far more room air than it burns, cools fast as it dies."""
    CLOSED_STOVE = "stove with its door shut"
    DRAFT_HOOD = "gas appliance with a draft hood"


JUDGEMENT = "judgement"


def _judged(value: float, low: float, high: float, unit: str, what: str) -> Estimate:
    return default(value, low, high, unit, f"{what}: {JUDGEMENT}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Flue:
    """A flue and the fire below it.

    Attributes
    ----------
    name : str
        Id of the fireplace or appliance; the flow of that name in a house state is this fire's.
    firing, wall, place
        What burns, what the flue is made of, where it runs.
    height : Estimate
        From throat, collar or draft hood to the cap. [m]
    width, depth : Estimate, Estimate or None
        Inside; a round flue has a width only. [m]
    loss_coefficient : Estimate
        Velocity pressures that throat, bends and cap take; friction of the straight flue is computed. [-]
    burning_flow : Estimate
        Room air drawn at full fire, dilution included, at the density of the room. [m3/s]
    dying_share : Estimate
        Share of that flow the opening still needs as the fire dies. [-]
    burning_temperature : Estimate
        Absolute temperature of the gas that enters the flue at full fire. [K]
    lighting_time, dying_time : Estimate
        Time constants with which the fire's warmth comes and goes. [s]
    burn_time : Estimate
        From lighting until nothing is put on any more: how warm the wall became. [s]
    wall_time : Estimate
        Time constant with which the inner wall warms and cools. [s]
    gas_film, wall_loss : Estimate
        Gas to wall, and wall to what surrounds it. [W/(m2 K)]
    outdoor_share : Estimate
        Share of the flue's surface that faces outdoors. [-]
    roughness : float
        Of the inner wall. [m]
    wanted_draft : Estimate or None
        Draft that the appliance's own manual asks for at full fire. [Pa]
    """

    name: str
    firing: Firing
    wall: FlueWall
    place: FluePlace
    height: Estimate
    width: Estimate
    loss_coefficient: Estimate
    burning_flow: Estimate
    dying_share: Estimate
    burning_temperature: Estimate
    lighting_time: Estimate
    dying_time: Estimate
    burn_time: Estimate
    wall_time: Estimate
    gas_film: Estimate
    wall_loss: Estimate
    outdoor_share: Estimate
    roughness: float
    depth: Estimate | None = None
    wanted_draft: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What the flue stands in.

    Attributes
    ----------
    outdoor_temperature, indoor_temperature : Estimate
        Absolute. [K]
    baseline : Estimate
        House minus outdoors at the hearth with every fan off and no fire: the stack of the house. [Pa]
    wind : Estimate
        What wind at cap and house adds to the pull; negative pushes down. [Pa]
    site_pressure : float
        Absolute air pressure at the site. [Pa]
    """

    outdoor_temperature: Estimate
    indoor_temperature: Estimate
    baseline: Estimate
    wind: Estimate
    site_pressure: float = STANDARD_PRESSURE


USUAL_WIND = _judged(0.0, -2.0, 2.0, "Pa", "wind at cap and house, light")
"""A breeze over a cap mostly pulls, a gust down a slope or beside a taller roof pushes. [Pa]"""
USUAL_NEUTRAL_LEVEL = _judged(0.5, 0.3, 0.7, "-", "neutral level over the height of the house")
"""From memory: leaks spread over the height put it at half; an open flue or a leaky ceiling lifts it. [-]"""

# Gas of 12 kW burns 0.3 l/s in some 4.5 l/s of air, excess included; a draft hood about doubles it.
BURNING_FLOW = {
    Firing.OPEN_FIREPLACE: default(
        0.189, 0.118, 0.283, "m3/s", "open fire, 250 to 600 cfm: common practice, no source"
    ),
    Firing.CLOSED_STOVE: default(0.008, 0.005, 0.014, "m3/s", "closed stove, 10 to 30 cfm: from memory"),
    Firing.DRAFT_HOOD: default(0.010, 0.006, 0.020, "m3/s", "gas of 12 to 24 kW with dilution air: judgement"),
}
"""Room air drawn at full fire. [m3/s]"""
FACE_SPEED = default(
    0.24, 0.18, 0.35, "m/s", "0.8 ft/s across the opening of a fireplace: handbook figure, from memory"
)
"""Speed at the face of an opening that keeps smoke in. [m/s]"""
DYING_SHARE = {
    Firing.OPEN_FIREPLACE: _judged(0.6, 0.4, 0.8, "-", "open damper, the face of the opening still to be held"),
    Firing.CLOSED_STOVE: _judged(0.4, 0.2, 0.7, "-", "air shut down"),
    Firing.DRAFT_HOOD: _judged(0.5, 0.3, 0.8, "-", "room air through the hood in the off cycle"),
}
# 15 to 40 kW of warmth in the gas of 0.14 to 0.34 kg/s is a rise of 50 to 200 K: what dilution leaves of a wood fire.
BURNING_TEMPERATURE = {
    Firing.OPEN_FIREPLACE: _judged(400.0, 350.0, 480.0, "K", "an open fire's heat in the air it draws"),
    Firing.CLOSED_STOVE: default(473.0, 420.0, 573.0, "K", "flue collar of a stove: from memory"),
    Firing.DRAFT_HOOD: default(393.0, 360.0, 440.0, "K", "gas vent after the draft hood: from memory"),
}
LIGHTING_TIME = {
    Firing.OPEN_FIREPLACE: _judged(15 * MINUTE, 8 * MINUTE, 30 * MINUTE, "s", "kindling to full fire"),
    Firing.CLOSED_STOVE: _judged(15 * MINUTE, 8 * MINUTE, 30 * MINUTE, "s", "kindling to full fire"),
    Firing.DRAFT_HOOD: _judged(1 * MINUTE, 0.5 * MINUTE, 2 * MINUTE, "s", "burner start"),
}
DYING_TIME = {
    Firing.OPEN_FIREPLACE: _judged(60 * MINUTE, 30 * MINUTE, 120 * MINUTE, "s", "flames to embers"),
    Firing.CLOSED_STOVE: _judged(60 * MINUTE, 30 * MINUTE, 150 * MINUTE, "s", "flames to embers"),
    Firing.DRAFT_HOOD: _judged(1 * MINUTE, 0.5 * MINUTE, 3 * MINUTE, "s", "burner stop"),
}
BURN_TIME = {
    Firing.OPEN_FIREPLACE: _judged(2 * HOUR, 1 * HOUR, 5 * HOUR, "s", "an evening's fire"),
    Firing.CLOSED_STOVE: _judged(3 * HOUR, 1 * HOUR, 8 * HOUR, "s", "one or two loads"),
    Firing.DRAFT_HOOD: _judged(15 * MINUTE, 5 * MINUTE, 40 * MINUTE, "s", "one firing"),
}
LOSSES = {
    Firing.OPEN_FIREPLACE: _judged(3.0, 2.0, 5.0, "-", "throat, smoke chamber and cap"),
    Firing.CLOSED_STOVE: _judged(2.5, 1.5, 4.0, "-", "collar, two bends and cap"),
    Firing.DRAFT_HOOD: _judged(2.5, 1.5, 4.0, "-", "hood, bends and cap"),
}
"""Velocity pressures, from sharp entries 0.5, bends 0.3 and exits 1.0 added up. [-]"""
USUAL_BENDS = {Firing.OPEN_FIREPLACE: 0.0, Firing.CLOSED_STOVE: 2.0, Firing.DRAFT_HOOD: 2.0}
"""Bends that are in those. [-]"""
BEND = _judged(0.3, 0.2, 0.6, "-", "a bend or offset of a flue")
LEAST_LOSSES = 1.0
"""Velocity pressures that the exit at the cap takes at least. [-]"""
# Nusselt numbers of turbulent pipe flow give 4 to 9 W/(m2 K) in house flues; radiation of the gas adds a few.
GAS_FILM = _judged(8.0, 5.0, 14.0, "W/(m2 K)", "gas to wall")
# Wall: half of its resistance and the film of the air outside; brick of 10 to 20 cm, insulation of 2 to 5 cm.
WALL_LOSS = {
    FlueWall.MASONRY: _judged(3.0, 2.0, 5.0, "W/(m2 K)", "brick to its surroundings"),
    FlueWall.LINED_MASONRY: _judged(1.2, 0.7, 2.0, "W/(m2 K)", "insulated liner in brick"),
    FlueWall.SINGLE_METAL: _judged(10.0, 7.0, 15.0, "W/(m2 K)", "bare pipe"),
    FlueWall.INSULATED_METAL: _judged(1.5, 0.8, 2.5, "W/(m2 K)", "insulated pipe"),
}
# Heat stored per area over the two films: 2 to 10 cm of brick 0.8 to 4 h; half a millimetre of steel 2 min.
WALL_TIME = {
    FlueWall.MASONRY: _judged(1.5 * HOUR, 0.5 * HOUR, 4.0 * HOUR, "s", "brick warming and cooling"),
    FlueWall.LINED_MASONRY: _judged(8 * MINUTE, 4 * MINUTE, 25 * MINUTE, "s", "liner warming and cooling"),
    FlueWall.SINGLE_METAL: _judged(2 * MINUTE, 1 * MINUTE, 5 * MINUTE, "s", "bare pipe warming and cooling"),
    FlueWall.INSULATED_METAL: _judged(6 * MINUTE, 3 * MINUTE, 15 * MINUTE, "s", "insulated pipe warming and cooling"),
}
OUTDOOR_SHARE = {
    FluePlace.INSIDE: _judged(0.2, 0.05, 0.4, "-", "only what stands above the roof faces outdoors"),
    FluePlace.EXTERIOR: _judged(0.8, 0.6, 1.0, "-", "three sides and the top face outdoors"),
    FluePlace.UNKNOWN: _judged(0.5, 0.05, 1.0, "-", "place of the flue not known"),
}
ROUGHNESS = {
    FlueWall.MASONRY: 3e-3,
    FlueWall.LINED_MASONRY: 1e-3,
    FlueWall.SINGLE_METAL: 1e-3,
    FlueWall.INSULATED_METAL: 1e-3,
    FlueWall.UNKNOWN: 2e-3,
}
"""Of clay or brick, and of metal with soot. [m]; judgement"""


def counted_losses(firing: Firing, bends: float) -> Estimate:
    """Return the velocity pressures of throat, collar, bends and cap where somebody counted the bends. [-]"""
    more = bends - USUAL_BENDS[firing]
    return spread(
        lambda usual, bend: max(usual + more * bend, LEAST_LOSSES), LOSSES[firing], BEND, unit="-",
        source=f"{bends:g} bends counted; {LOSSES[firing].source}",
    )  # fmt: skip


def opening_flow(opening_area: Estimate) -> Estimate:
    """Return the room air that holds the smoke at the face of an open fire. [m3/s]

    Parameters
    ----------
    opening_area : Estimate
        Width times height of the opening. [m2]

    Notes
    -----
    Valid: an opening without doors; glass doors draw less. A flue of less than a tenth of the opening does not carry it.
    Checked against: lies within the 250 to 600 cfm of common practice for openings of 0.5 to 1.1 m2.
    """
    return spread(
        lambda area, speed: area * speed,
        opening_area,
        FACE_SPEED,
        unit="m3/s",
        source=f"face of the opening; {FACE_SPEED.source}",
    )


def usual_flue(
    *,
    name: str,
    firing: Firing,
    height: Estimate,
    width: Estimate,
    depth: Estimate | None = None,
    wall: FlueWall = FlueWall.UNKNOWN,
    place: FluePlace = FluePlace.UNKNOWN,
    burning_flow: Estimate | None = None,
) -> Flue:
    """Return a flue of which size and kind are known, the rest from defaults with their intervals.

    What was measured goes in with :func:`dataclasses.replace`. A wall or place that nobody noted gets the interval
    that spans them all.

    Parameters
    ----------
    name : str
        Id of the fireplace or appliance.
    firing, wall, place
        What burns, what the flue is made of, where it runs.
    height, width, depth : Estimate
        Inside measures [m]; without depth the flue is round.
    burning_flow : Estimate, optional
        Room air drawn at full fire, where the survey has it. [m3/s]
    """
    return Flue(
        name=name, firing=firing, wall=wall, place=place, height=height, width=width, depth=depth,
        loss_coefficient=LOSSES[firing], burning_flow=burning_flow or BURNING_FLOW[firing],
        dying_share=DYING_SHARE[firing], burning_temperature=BURNING_TEMPERATURE[firing],
        lighting_time=LIGHTING_TIME[firing], dying_time=DYING_TIME[firing], burn_time=BURN_TIME[firing],
        wall_time=_of_wall(WALL_TIME, wall), gas_film=GAS_FILM, wall_loss=_of_wall(WALL_LOSS, wall),
        outdoor_share=OUTDOOR_SHARE[place], roughness=ROUGHNESS[wall],
    )  # fmt: skip


def _of_wall(table: dict[FlueWall, Estimate], wall: FlueWall) -> Estimate:
    """Return a wall's entry; for an unknown wall masonry's value and an interval over all."""
    if wall is not FlueWall.UNKNOWN:
        return table[wall]
    middle = table[FlueWall.MASONRY]
    return default(
        middle.value,
        min(one.low for one in table.values()),
        max(one.high for one in table.values()),
        middle.unit,
        f"wall of the flue not known, anything from bare pipe to brick: {JUDGEMENT}",
    )


def surveyed_flue(
    *,
    name: str,
    firing: Firing,
    height: Estimate | None,
    width: Estimate | None,
    depth: Estimate | None = None,
    wall: FlueWall = FlueWall.UNKNOWN,
    place: FluePlace = FluePlace.UNKNOWN,
    burning_flow: Estimate | None = None,
) -> tuple[Flue | None, tuple[Problem, ...]]:
    """Return a flue as far as the survey has it, None if height or section is missing, with what is missing.

    Parameters are those of :func:`usual_flue`; None where nobody measured.
    """
    if height is None or width is None:
        lacking = " and ".join(what for what, one in (("height", height), ("section", width)) if one is None)
        return None, (
            Problem(
                code="network-flue-not-sized",
                where=f"survey.toml, flue of {name}",
                found=f"no {lacking} of the flue",
                wanted="height above the appliance and inside section",
                remedy="Measure both; without them no draft is computed.",
            ),
        )
    problems: tuple[Problem, ...] = ()
    if wall is FlueWall.UNKNOWN or place is FluePlace.UNKNOWN:
        problems = (
            Problem(
                code="network-flue-wall-assumed",
                where=f"survey.toml, flue of {name}",
                found=f"{wall.value}, {place.value}",
                wanted="masonry or metal, lined or insulated, inside or on an exterior wall",
                remedy="Look at the flue; until then its band spans every kind.",
                severity=Severity.NOTE,
            ),
        )
    flue = usual_flue(
        name=name, firing=firing, height=height, width=width, depth=depth, wall=wall, place=place,
        burning_flow=burning_flow,
    )  # fmt: skip
    return flue, problems


def stack_at_hearth(
    outdoor_temperature: Estimate,
    indoor_temperature: Estimate,
    house_height: Estimate,
    hearth_height: Estimate,
    neutral_level: Estimate = USUAL_NEUTRAL_LEVEL,
    site_pressure: float = STANDARD_PRESSURE,
) -> Estimate:
    """Return house minus outdoors at the hearth with every fan off: the stack of the house itself. [Pa]

    Parameters
    ----------
    outdoor_temperature, indoor_temperature : Estimate
        Absolute. [K]
    house_height, hearth_height : Estimate
        Lowest floor to highest ceiling, and hearth above the lowest floor. [m]
    neutral_level : Estimate, optional
        Height of the neutral level over that of the house. [-]
    site_pressure : float, optional
        Absolute. [Pa]

    Notes
    -----
    Valid: no wind; the flue's own pull on the neutral level is left to its default band.
    Checked against: 3.3 Pa of suction 2.5 m below the neutral level at 30 K (computed check value).
    """
    return spread(
        lambda outside, inside, house, hearth, neutral: float(
            stack_pressure(hearth - neutral * house, outside, inside, site_pressure)
        ),
        outdoor_temperature,
        indoor_temperature,
        house_height,
        hearth_height,
        neutral_level,
        unit="Pa",
        source=f"stack of the house at the hearth; {neutral_level.source}",
    )


def surroundings(
    outdoor_temperature: Estimate,
    indoor_temperature: Estimate,
    *,
    baseline: Estimate | None = None,
    wind: Estimate = USUAL_WIND,
    site_pressure: float = STANDARD_PRESSURE,
) -> Surroundings:
    """Return what a flue stands in; a baseline that was not measured is that of a hearth on the floor of one storey.

    Parameters
    ----------
    outdoor_temperature, indoor_temperature : Estimate
        Absolute. [K]
    baseline : Estimate, optional
        Measured with every fan off, or from :func:`stack_at_hearth`. [Pa]
    wind : Estimate, optional
        [Pa]
    site_pressure : float, optional
        Absolute. [Pa]
    """
    if baseline is None:
        house = _judged(
            REFERENCE_HEIGHT, REFERENCE_HEIGHT, 2.5 * REFERENCE_HEIGHT, "m", "height of the house not given"
        )
        hearth = _judged(0.3, 0.0, 0.6, "m", "hearth on the lowest floor")
        baseline = stack_at_hearth(outdoor_temperature, indoor_temperature, house, hearth, site_pressure=site_pressure)
    return Surroundings(
        outdoor_temperature=outdoor_temperature, indoor_temperature=indoor_temperature, baseline=baseline, wind=wind,
        site_pressure=site_pressure,
    )  # fmt: skip
