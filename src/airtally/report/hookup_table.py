"""The hookup's numbers as a page shows them: units of the job, marks that tie drawing to table, rows."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.estimates import Estimate
from airtally.network.ducts.hookup import HookupDesign
from airtally.network.ducts.hookup_states import LoopState
from airtally.network.ducts.sensor_place import SensorView
from airtally.record import quantity
from airtally.report import words
from airtally.units import Kind, estimate_to_field

HEAD = ("mark", "what", "value", "interval", "basis")
NOT_MEASURED = "not measured"
SENSOR_MARK = "8"
"""Mark of the in-duct sensor on the drawing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HookupUnits:
    """Units that a job is drawn in, as ``airtally.units`` spells them."""

    flow: str = "cfm"
    pressure: str = "inH2O"
    length: str = "ft"
    diameter: str = "in"
    speed: str = "fpm"


TRADE_UNITS = HookupUnits()
METRIC_UNITS = HookupUnits(flow="L/s", pressure="Pa", length="m", diameter="mm", speed="m/s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One number in the job's unit: value with unit, value alone, interval alone, basis."""

    text: str
    value: str
    interval: str
    basis: str

    @property
    def whole(self) -> str:
        """Value with unit and interval in brackets."""
        return f"{self.text} ({self.interval})" if self.interval else self.text


def shown(estimate: Estimate | None, kind: Kind, unit: str, *, most_places: int = 6) -> Shown:
    """Return a number in the unit of the job, decimals as its interval bears; None is said to be not measured."""
    if estimate is None:
        return Shown(text=NOT_MEASURED, value=NOT_MEASURED, interval="", basis="")
    number = quantity(estimate_to_field(estimate, kind, unit))
    places = min(max(words.decimals_of(number), 0), most_places)
    value = words.value_text(number, decimals=places)
    printed = words.printed_unit(number)
    text = f"{value}%" if printed == "%" else f"{value} {printed}"
    return Shown(
        text=text, value=value, interval=words.interval_text(number, decimals=places), basis=estimate.basis.value
    )


def flow_shown(estimate: Estimate | None, units: HookupUnits) -> Shown:
    """Return a flow."""
    return shown(estimate, Kind.FLOW, units.flow)


def pressure_shown(estimate: Estimate | None, units: HookupUnits, *, most_places: int = 4) -> Shown:
    """Return a pressure."""
    return shown(estimate, Kind.PRESSURE, units.pressure, most_places=most_places)


def length_shown(estimate: Estimate | None, units: HookupUnits) -> Shown:
    """Return a length along a duct."""
    return shown(estimate, Kind.LENGTH, units.length, most_places=1 if units.length == "ft" else 2)


def share_shown(estimate: Estimate | None) -> Shown:
    """Return a share as per cent."""
    return shown(estimate, Kind.FRACTION, "%")


def diameter_text(diameter: float, units: HookupUnits) -> str:
    """Return a duct's diameter [m] as it is ordered: 10 in, 250 mm."""
    inches = diameter / 0.0254
    return f"{inches:.0f} in" if units.diameter == "in" else f"{diameter * 1000.0:.0f} mm"


def hookup_rows(
    design: HookupDesign, units: HookupUnits, sensor: SensorView | None = None
) -> tuple[tuple[str, ...], ...]:
    """Return the table behind the drawing, one row a number, with the drawing's marks; head is :data:`HEAD`."""
    trunk, first = design.hookup.trunk, design.hookup.states[0]
    rows: list[tuple[str, ...]] = []

    def add(mark: str, what: str, number: Shown) -> None:
        rows.append((mark, what, number.text, number.interval, number.basis))

    add("", "straight trunk before the first tap", length_shown(trunk.straight_before, units))
    add("", "between the taps", length_shown(trunk.tap_distance, units))
    add("", "from the second tap to the filter", length_shown(trunk.straight_after, units))
    rows.append(("1, 2", "collars and loop duct", f"{diameter_text(design.hookup.loop.diameter, units)} round", "", ""))
    for part in design.parts:
        add("", f"lost in {part.name}", pressure_shown(part.pressure, units))
    add("", "lost in the loop", pressure_shown(design.loss, units))
    add("", "lent by the trunk between the taps", pressure_shown(design.lent, units))
    for state in design.states:
        for mark, what, number in _state_rows(state, units):
            add(mark, what, number)
    add("A", f"suction at the take-off, {first.name}", pressure_shown(first.take_off_static, units))
    add("B", f"suction at the re-entry, {first.name}", pressure_shown(first.re_entry_static, units))
    if design.wanted_flow is not None:
        add("", "loop flow wanted", flow_shown(design.wanted_flow, units))
        size = design.smallest_sure or design.smallest
        rows.append(("", "smallest duct that holds it", _size_text(design, units), "", "computed" if size else ""))
    for side in design.supply:
        add("", f"discharge in the supply plenum instead, {side.name}: flow", flow_shown(side.loop_flow, units))
    if sensor is not None:
        add(SENSOR_MARK, f"sensor, {sensor.candidate.spot.value}: reads of the rooms", share_shown(sensor.over_room))
    return tuple(rows)


def _state_rows(state: LoopState, units: HookupUnits) -> tuple[tuple[str, str, Shown], ...]:
    return (
        ("5", f"cleaner's flow, {state.name}", flow_shown(state.loop_flow, units)),
        ("", f"velocity in the loop, {state.name}", shown(state.velocity, Kind.SPEED, units.speed)),
        ("", f"between the taps, {state.name}", flow_shown(state.between_taps, units)),
        ("", f"own air taken in again, {state.name}", share_shown(state.recirculated)),
        ("", f"cleans as much as, {state.name}", flow_shown(state.clean_air, units)),
    )


def _size_text(design: HookupDesign, units: HookupUnits) -> str:
    """Return the smallest duct in words: for certain, by its middle value only, or none."""
    if design.smallest_sure is not None:
        sure = f"{diameter_text(design.smallest_sure.diameter, units)} round"
        if design.smallest is not None and design.smallest.diameter < design.smallest_sure.diameter:
            return f"{sure}; {diameter_text(design.smallest.diameter, units)} may do"
        return sure
    if design.smallest is not None:
        return f"{diameter_text(design.smallest.diameter, units)} round may do, none for certain"
    return "none of the sizes sold"
