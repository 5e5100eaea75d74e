"""What gas and air pass through, as surveyed: flues, duct runs outside the rooms, the loop of a bypass cleaner."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from airtally.estimates import Estimate


class FlueWall(StrEnum):
    """What a flue is made of."""

    MASONRY = "masonry"
    LINED_MASONRY = "masonry with an insulated liner"
    SINGLE_METAL = "single-wall metal"
    INSULATED_METAL = "insulated metal"
    UNKNOWN = "wall not known"


class FluePlace(StrEnum):
    """Where a flue runs."""

    INSIDE = "inside the house"
    EXTERIOR = "on an exterior wall"
    UNKNOWN = "place not known"


class DuctSide(StrEnum):
    """Which way the air of a duct goes."""

    SUPPLY = "supply"
    RETURN = "return"


class Insulation(StrEnum):
    """What a duct is wrapped in."""

    BARE = "bare metal"
    R4 = "R-4.2"
    R6 = "R-6"
    R8 = "R-8"
    UNKNOWN = "insulation not known"


class Discharge(StrEnum):
    """Where a bypass cleaner blows to."""

    RETURN = "return trunk"
    SUPPLY = "supply plenum"


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyedFlue:
    """A flue or chimney.

    Attributes
    ----------
    id : str
    serves : str
        Id of the appliance below it, or of an open fire that is surveyed as an exhaust only.
    wall : FlueWall
    place : FluePlace
    height : Estimate
        From the throat of a fireplace, or from where a connector enters, to the cap. [m]
    rise : Estimate
        Of the connector between appliance and chimney; it counts as height. [m]
    width, depth : Estimate, Estimate or None
        Inside; a round flue has a width only. [m]
    bends : float or None
        Bends of connector and flue, None where nobody counted. [-]
    opening : Estimate or None
        Width times height of an open fireplace's opening. [m2]
    wanted_draft : Estimate or None
        Draft that the appliance's manual asks for at full fire. [Pa]
    hearth_height : Estimate or None
        Of the fire above the lowest floor. [m]
    burn_time : Estimate or None
        From lighting until nothing is put on any more, as usual in this house. [s]
    """

    id: str
    serves: str
    wall: FlueWall
    place: FluePlace
    height: Estimate
    rise: Estimate
    width: Estimate
    depth: Estimate | None = None
    bends: float | None = None
    opening: Estimate | None = None
    wanted_draft: Estimate | None = None
    hearth_height: Estimate | None = None
    burn_time: Estimate | None = None
    since: float = float("-inf")
    until: float = float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyedDuct:
    """A run of the air handler's duct through a space that is not heated or cooled.

    Attributes
    ----------
    id : str
    side : DuctSide
    zone : str
        Id of the space around it, or ``"outdoors"``.
    length, width, depth : Estimate, Estimate, Estimate or None
        Width and depth inside; a round duct has a width only. [m]
    insulation : Insulation
        By its label.
    insulation_thickness : Estimate or None
        Of the wrap as it is; governs over the label. [m]
    flow : Estimate or None
        Air in it at heating speed. [m3/s]
    around_heating, around_cooling : Estimate or None
        Absolute temperature around it on a cold and on a hot day. [K]
    humidity_around : Estimate or None
        Relative humidity around it while the house is cooled. [-]
    """

    id: str
    side: DuctSide
    zone: str
    length: Estimate
    width: Estimate
    depth: Estimate | None = None
    insulation: Insulation = Insulation.UNKNOWN
    insulation_thickness: Estimate | None = None
    flow: Estimate | None = None
    around_heating: Estimate | None = None
    around_cooling: Estimate | None = None
    humidity_around: Estimate | None = None
    since: float = float("-inf")
    until: float = float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class BypassLoop:
    """The hookup that is wanted of a bypass cleaner, or the one that was built; None where nothing is laid out yet.

    Attributes
    ----------
    diameter : Estimate or None
        Of the loop's round duct. [m]
    rigid_length, flex_length : Estimate or None
        Of all its duct together. [m]
    flex_compression : Estimate or None
        Missing length over stretched length. [-]
    bends : float or None
        Bends of 90 degrees. [-]
    hand_dampers, backdraft_dampers : float or None
        How many. [-]
    trunk_width, trunk_height : Estimate or None
        Return trunk at the taps, inside; a round trunk has a width only. [m]
    straight_before, tap_distance, straight_after : Estimate or None
        Along the trunk: last branch to first tap, tap to tap, second tap to filter. [m]
    is_take_off_first : bool
        Whether the take-off lies upstream.
    discharge : Discharge
    wanted_clean_air : Estimate or None
        At heating speed. [m3/s]
    free_flow : Estimate or None
        The cleaner's flow with nothing attached, as its label says. [m3/s]
    shut_off : Estimate or None
        Pressure of the cleaner's fan at no flow. [Pa]
    """

    diameter: Estimate | None = None
    rigid_length: Estimate | None = None
    flex_length: Estimate | None = None
    flex_compression: Estimate | None = None
    bends: float | None = None
    hand_dampers: float | None = None
    backdraft_dampers: float | None = None
    trunk_width: Estimate | None = None
    trunk_height: Estimate | None = None
    straight_before: Estimate | None = None
    tap_distance: Estimate | None = None
    straight_after: Estimate | None = None
    is_take_off_first: bool = True
    discharge: Discharge = Discharge.RETURN
    wanted_clean_air: Estimate | None = None
    free_flow: Estimate | None = None
    shut_off: Estimate | None = None
