"""Hearths and surroundings from survey and visits: which fires there are, what was read, what was assumed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from numpy.testing import assert_allclose

from airtally.estimates import Basis, Estimate, Missing
from airtally.house.parts import Appliance, ApplianceKind, Envelope, Exhaust, ExhaustKind, House, Venting
from airtally.network import HousePressure
from airtally.network.flues.flue import Firing, FluePlace, FlueWall, usual_flue
from airtally.network.flues.flue_draft import Stage, draft_in_state
from airtally.network.flues.flue_survey import draft_conflict, firing_of, flue_surroundings, hearths
from airtally.visits import HouseState, Reading, Visit, VisitKind


def sure(value: float, unit: str) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit=unit, basis=Basis.MEASURED, source="test")


def appliance(name: str, kind: ApplianceKind, venting: Venting, zone: str = "living") -> Appliance:
    return Appliance(id=name, kind=kind, zone=zone, venting=venting, fuel="wood")


def house(*appliances: Appliance, fires: tuple[str, ...] = (), elevation: float = 0.0) -> House:
    return House(
        home_id="invented", name="invented", is_invented=True, time_zone="UTC", elevation=elevation, currency="USD",
        zones=(), envelopes=(
            Envelope(
                flow_at_50=None, exponent=sure(0.65, "-"), height=sure(5.0, "m"), floor_area=sure(200.0, "m2"),
                storeys=2.0, shelter_class=4,
            ),
        ),
        air_handler=None, appliances=appliances,
        exhausts=tuple(Exhaust(id=f"fire-{zone}", kind=ExhaustKind.FIREPLACE, zone=zone, flow=sure(0.19, "m3/s"))
                       for zone in fires),
    )  # fmt: skip


def reading(
    key: str, value: Estimate | Missing, place: str, reference: str | None = None, time: float = 0.0
) -> Reading:
    return Reading(key=key, place=place, state=HouseState(), value=value, time=time, reference=reference)


def visit(*readings: Reading) -> Visit:
    return Visit(
        id="in", kind=VisitKind.TEST_IN, time=0.0, by="technician", state=HouseState(), readings=readings
    )  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "venting", "expected"),
    [
        (ApplianceKind.FIREPLACE, Venting.OPEN_CHIMNEY, Firing.OPEN_FIREPLACE),
        (ApplianceKind.STOVE, Venting.CLOSED_CHIMNEY, Firing.CLOSED_STOVE),
        (ApplianceKind.STOVE, Venting.NATURAL_DRAFT, Firing.CLOSED_STOVE),
        (ApplianceKind.WATER_HEATER, Venting.NATURAL_DRAFT, Firing.DRAFT_HOOD),
        (ApplianceKind.FURNACE, Venting.INDUCED_DRAFT, None),
        (ApplianceKind.WATER_HEATER, Venting.POWER_VENTED, None),
        (ApplianceKind.FURNACE, Venting.SEALED, None),
        (ApplianceKind.RANGE, Venting.UNVENTED, None),
    ],
)
def test_what_burns_below_a_flue_follows_from_its_venting(
    kind: ApplianceKind, venting: Venting, expected: Firing | None
) -> None:
    assert firing_of(appliance("one", kind, venting)) is expected


def test_an_open_fire_surveyed_twice_is_one_hearth_and_one_surveyed_as_exhaust_only_is_not_lost() -> None:
    fireplace = appliance("hearth", ApplianceKind.FIREPLACE, Venting.OPEN_CHIMNEY)
    heater = appliance("heater", ApplianceKind.WATER_HEATER, Venting.NATURAL_DRAFT, "utility")
    found = hearths(house(fireplace, heater, fires=("living", "den")))
    assert [(one.name, one.appliance, one.zone) for one in found] == [
        ("fire-living", "hearth", "living"), ("heater", "heater", "utility"), ("fire-den", "", "den"),
    ]  # fmt: skip
    assert [one.burning_flow is None for one in found] == [False, True, False]
    gone = replace(fireplace, until=100.0)
    assert hearths(house(gone)) == ()
    assert len(hearths(house(gone), 50.0)) == 1


def test_readings_govern_and_what_was_not_read_is_assumed_by_name() -> None:
    visits = (
        visit(
            reading("outdoor_temperature", sure(265.0, "K"), "outdoors"),
            reading("indoor_temperature", sure(295.0, "K"), "living"),
            reading("indoor_temperature", sure(290.0, "K"), "cellar", time=5.0),
            reading("baseline_pressure", sure(-1.7, "Pa"), "living", "outdoors"),
            reading("baseline_pressure", sure(-0.1, "Pa"), "living", "hall", time=9.0),
        ),
    )
    around, problems = flue_surroundings(house(elevation=1500.0), visits, "living")
    assert problems == ()
    assert (around.outdoor_temperature.value, around.indoor_temperature.value) == (265.0, 295.0)
    assert around.baseline.value == -1.7
    # standard atmosphere at 1500 m: 84,556 Pa
    assert_allclose(around.site_pressure, 84_556.0, rtol=1e-4)
    nothing, problems = flue_surroundings(house(), (), "living")
    assert [p.code for p in problems] == ["network-draft-weather-assumed"]
    assert nothing.outdoor_temperature.high - nothing.outdoor_temperature.low > 20.0
    assert nothing.baseline.low < nothing.baseline.value < 0.0


def test_another_day_is_asked_with_its_own_stack() -> None:
    visits = (visit(reading("baseline_pressure", sure(-1.7, "Pa"), "living", "outdoors")),)
    cold, _ = flue_surroundings(house(), visits, "living", outdoor_temperature=sure(253.15, "K"))
    mild, _ = flue_surroundings(house(), visits, "living", outdoor_temperature=sure(288.15, "K"))
    assert cold.baseline.value < mild.baseline.value < 0.0
    assert cold.baseline.value != -1.7


def test_a_draft_that_was_read_is_kept_and_a_conflict_has_its_size() -> None:
    """Sign of the trade: flue minus room, negative when it pulls."""
    around, _ = flue_surroundings(
        house(), (visit(reading("outdoor_temperature", sure(273.15, "K"), "outdoors")),), "living"
    )
    flue = usual_flue(name="stove", firing=Firing.CLOSED_STOVE, height=sure(5.0, "m"), width=sure(0.15, "m"),
                      wall=FlueWall.INSULATED_METAL, place=FluePlace.INSIDE)  # fmt: skip
    still = HousePressure(state="every fan off", pressure=sure(0.0, "Pa"), flows=())
    draft = draft_in_state(flue, around, still)
    value = draft.at(Stage.STEADY).available.value
    assert draft_conflict(draft, reading("draft", sure(-value, "Pa"), "stove", "living"), is_burner=True) == ()
    assert draft_conflict(draft, reading("draft", Missing.NOT_MEASURED, "stove"), is_burner=True) == ()
    weak = reading("draft", sure(-2.5, "Pa"), "stove", "living")
    assert draft_conflict(draft, weak, is_burner=False) == ()
    found = draft_conflict(draft, weak, is_burner=True)
    assert [p.code for p in found] == ["network-draft-disagrees"]
    assert f"{value - 2.5:.1f} Pa apart" in found[0].sentence()
    assert draft_conflict(draft, reading("draft", sure(6.0, "Pa"), "stove", "living"), is_burner=False)
