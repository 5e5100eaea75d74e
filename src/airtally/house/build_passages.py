"""Survey tables to flues, duct runs and a bypass cleaner's loop."""

from __future__ import annotations

from airtally.house import problems as code
from airtally.house.entries import Entry
from airtally.house.fields import Default
from airtally.house.parts import ALWAYS_BEFORE, STILL_THERE, Appliance, Exhaust, ExhaustKind, Venting
from airtally.house.passages import (
    BypassLoop,
    Discharge,
    DuctSide,
    FluePlace,
    FlueWall,
    Insulation,
    SurveyedDuct,
    SurveyedFlue,
)
from airtally.house.sections_passages import CONNECTOR_RISE, FIREPLACE_FLUE, NO_RISE, STOVE_FLUE, VENT

OUTDOORS = "outdoors"
WARMTH_DRIVEN = (Venting.NATURAL_DRAFT, Venting.OPEN_CHIMNEY, Venting.CLOSED_CHIMNEY)
"""Ventings in which nothing but warmth moves the gas."""


def build_flue(entry: Entry, appliances: tuple[Appliance, ...], exhausts: tuple[Exhaust, ...]) -> SurveyedFlue | None:
    """Return a flue, or None where nothing that draws by warmth stands below it."""
    identifier = entry.id()
    fires = [one.id for one in exhausts if one.kind is ExhaustKind.FIREPLACE]
    serves = entry.reference("serves", [*(one.id for one in appliances), *fires])
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    venting = next((one.venting for one in appliances if one.id == serves), Venting.OPEN_CHIMNEY)
    if serves is not None and venting not in WARMTH_DRIVEN:
        entry.is_broken = True
        entry.problem(
            code.KEY_UNUSED,
            "serves",
            f"{serves} is vented by {venting.value}: a fan moves its gas, or it has no flue",
            "an appliance that draws by warmth alone",
            "Take the flue out, or correct the appliance's venting.",
        )
    if entry.is_broken or serves is None:
        return None
    is_open = venting is Venting.OPEN_CHIMNEY
    height = entry.quantity("height")
    rise = entry.quantity("rise", NO_RISE if is_open else CONNECTOR_RISE)
    width = entry.quantity("width", _usual_width(venting))
    if is_open:
        entry.unused("wanted_draft", "an appliance with a manual below the flue")
    else:
        entry.unused("opening", "an open fireplace below the flue")
    if height is None or rise is None or width is None:
        return None
    return SurveyedFlue(
        id=identifier,
        serves=serves,
        wall=entry.word("wall", FlueWall, FlueWall.UNKNOWN),
        place=entry.word("place", FluePlace, FluePlace.UNKNOWN),
        height=height,
        rise=rise,
        width=width,
        depth=entry.written("depth"),
        bends=entry.count("bends", is_whole=True),
        opening=entry.written("opening") if is_open else None,
        wanted_draft=None if is_open else entry.written("wanted_draft"),
        hearth_height=entry.written("hearth_height"),
        burn_time=entry.written("burn_time"),
        since=since,
        until=until,
    )


def _usual_width(venting: Venting) -> Default:
    if venting is Venting.OPEN_CHIMNEY:
        return FIREPLACE_FLUE
    return STOVE_FLUE if venting is Venting.CLOSED_CHIMNEY else VENT


def build_duct(entry: Entry, zones: tuple[str, ...]) -> SurveyedDuct | None:
    """Return a duct run, or None where it cannot be used."""
    identifier = entry.id()
    zone = entry.reference("zone", (*zones, OUTDOORS))
    side = entry.word("side", DuctSide, DuctSide.SUPPLY)
    since, until = entry.dates(ALWAYS_BEFORE, STILL_THERE)
    length, width = entry.quantity("length"), entry.quantity("width")
    if side is DuctSide.RETURN:
        entry.unused("humidity_around", "a supply run: only cold air makes a duct sweat")
    if entry.is_broken or zone is None or length is None or width is None:
        return None
    return SurveyedDuct(
        id=identifier,
        side=side,
        zone=zone,
        length=length,
        width=width,
        depth=entry.written("depth"),
        insulation=entry.word("insulation", Insulation, Insulation.UNKNOWN),
        insulation_thickness=entry.written("insulation_thickness"),
        flow=entry.written("flow"),
        around_heating=entry.written("around_heating"),
        around_cooling=entry.written("around_cooling"),
        humidity_around=None if side is DuctSide.RETURN else entry.written("humidity_around"),
        since=since,
        until=until,
    )


def build_bypass(entry: Entry) -> BypassLoop:
    """Return the loop as far as it is laid out."""
    width, flex = entry.written("trunk_width"), entry.written("flex_length")
    if width is None:
        entry.unused("trunk_height", "trunk_width beside it")
    if flex is None:
        entry.unused("flex_compression", "flex_length beside it")
    return BypassLoop(
        diameter=entry.written("diameter"),
        rigid_length=entry.written("rigid_length"),
        flex_length=flex,
        flex_compression=entry.written("flex_compression"),
        bends=entry.count("bends", is_whole=True),
        hand_dampers=entry.count("hand_dampers", is_whole=True),
        backdraft_dampers=entry.count("backdraft_dampers", is_whole=True),
        trunk_width=width,
        trunk_height=entry.written("trunk_height"),
        straight_before=entry.written("straight_before"),
        tap_distance=entry.written("tap_distance"),
        straight_after=entry.written("straight_after"),
        is_take_off_first=entry.fact("is_take_off_first", True),
        discharge=entry.word("discharge", Discharge, Discharge.RETURN),
        wanted_clean_air=entry.written("wanted_clean_air"),
        free_flow=entry.written("free_flow"),
        shut_off=entry.written("shut_off"),
    )
