"""From a survey and gauge readings to leakage, worst cases and the static budget; figures of the invented job."""

from __future__ import annotations

from dataclasses import replace

from numpy.testing import assert_allclose

from airtally.estimates import Basis, Estimate
from airtally.house.parts import (
    AirHandler,
    Appliance,
    ApplianceKind,
    Envelope,
    Exhaust,
    ExhaustKind,
    FanSpeed,
    House,
    ReturnLeak,
    Venting,
)
from airtally.network import envelope_leakage, static_budget, worst_cases
from airtally.visits import ALL, Doors, HandlerMode, HouseState, Missing, Reading, Visit, VisitKind

CFM = 0.3048**3 / 60.0
INCH = 249.08891


def sure(value: float, unit: str = "m3/s", basis: Basis = Basis.SURVEYED) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit=unit, basis=basis, source="test")


def about(value: float, share: float, unit: str = "m3/s") -> Estimate:
    half = abs(value) * share
    return Estimate(value=value, low=value - half, high=value + half, unit=unit, basis=Basis.MEASURED, source="test")


HEATING = HouseState(doors=Doors.OPEN, air_handler=HandlerMode.HEATING, exhausts_on=(), fires_lit=())


def reading(key: str, value: Estimate | Missing, place: str = "house", state: HouseState = HEATING) -> Reading:
    return Reading(key=key, place=place, state=state, value=value, time=0.0, reference="outdoors")


def visit(*readings: Reading, kind: VisitKind = VisitKind.TEST_OUT) -> Visit:
    return Visit(id=kind.value, kind=kind, time=0.0, by="technician", state=HEATING, readings=readings)


def exhaust(name: str, cfm: float, kind: ExhaustKind = ExhaustKind.OTHER) -> Exhaust:
    return Exhaust(id=name, kind=kind, zone="house", flow=sure(cfm * CFM))


def house(hood: float, cfm50: float | None) -> House:
    """Return the invented split-level: dryer 140, baths 2 x 42, an open fireplace at 400 cfm."""
    return House(
        home_id="invented", name="invented", is_invented=True, time_zone="UTC", elevation=0.0, currency="USD", zones=(),
        envelopes=(
            Envelope(
                flow_at_50=None if cfm50 is None else sure(cfm50 * CFM), exponent=sure(0.65, "-"),
                height=sure(5.0, "m"), floor_area=sure(200.0, "m2"), storeys=2.0, shelter_class=4,
            ),
        ),
        air_handler=AirHandler(
            speeds=(FanSpeed(name="heating", flow=sure(940 * CFM)),), filters=(),
            return_leaks=(ReturnLeak(id="leak", zone="garage", fraction=about(0.12, 0.5, "-"), is_before_filter=True),),
        ),
        exhausts=(
            exhaust("hood", hood, ExhaustKind.HOOD), exhaust("dryer", 140, ExhaustKind.DRYER),
            exhaust("bath-1", 42, ExhaustKind.BATH), exhaust("bath-2", 42, ExhaustKind.BATH),
            exhaust("fireplace", 400, ExhaustKind.FIREPLACE),
        ),
        appliances=(
            Appliance(
                id="water-heater", kind=ApplianceKind.WATER_HEATER, zone="utility", venting=Venting.NATURAL_DRAFT,
                fuel="gas",
            ),
        ),
    )  # fmt: skip


def test_worst_cases_are_ranked_and_a_measured_one_stands_among_them() -> None:
    worst = replace(HEATING, doors=Doors.WORST_CASE, exhausts_on=ALL)
    visits = (visit(reading("worst_case_pressure_change", about(-6.1, 0.05, "Pa"), "utility", worst)),)
    cases, _ = worst_cases(house(165, 2190), visits)
    values = [case.pressure.value for case in cases]
    assert values == sorted(values)
    assert [case.pressure.value for case in cases if case.method == "measured"] == [-6.1]


def test_without_house_leakage_nothing_is_invented() -> None:
    cases, problems = worst_cases(house(165, None), ())
    assert cases == ()
    assert [p.code for p in problems] == ["network-no-envelope-leakage"]


def test_visit_reading_governs_over_the_survey_and_a_conflict_is_named_with_its_size() -> None:
    found, problems = envelope_leakage(house(58, 3000), (visit(reading("cfm50", about(2000 * CFM, 0.05))),))
    assert found is not None
    assert_allclose(found[0].value, 2000 * CFM)
    assert [p.code for p in problems] == ["network-flow-disagrees"]
    assert "33% apart" in problems[0].found


def test_a_reading_taken_later_does_not_reach_back_in_time() -> None:
    late = replace(reading("cfm50", about(2000 * CFM, 0.05)), time=100.0)
    found, _ = envelope_leakage(house(58, 3000), (visit(late),), time=50.0)
    assert found is not None
    assert_allclose(found[0].value, 3000 * CFM)


def statics(**values: Estimate | Missing) -> Visit:
    return visit(*(reading(key, value, "air handler") for key, value in values.items()))


def test_static_budget_spends_the_total_on_its_parts() -> None:
    """Return 0.50 with a 0.41 filter, supply 0.36 with a 0.20 coil: the parts make 0.86 (sum rule, no source)."""
    found = static_budget(
        statics(
            tesp=about(0.86 * INCH, 0.02, "Pa"), return_static=about(0.50 * INCH, 0.02, "Pa"),
            supply_static=about(0.36 * INCH, 0.02, "Pa"), filter_drop=about(0.41 * INCH, 0.02, "Pa"),
            coil_drop=about(0.20 * INCH, 0.02, "Pa"), rated_static=sure(0.5 * INCH, "Pa"),
        )
    )  # fmt: skip
    parts = {p.name: p.pressure.value / INCH for p in found.parts if isinstance(p.pressure, Estimate)}
    assert_allclose(
        [parts[name] for name in ("filter", "return ducts", "coil", "supply ducts")],
        (0.41, 0.09, 0.20, 0.16),
        atol=1e-9,
    )
    assert isinstance(found.total, Estimate)
    assert_allclose(sum(parts.values()), found.total.value / INCH, atol=1e-9)
    assert found.excess is not None
    assert_allclose(found.excess.value, 0.72, atol=1e-9)
    assert found.problems == ()


def test_static_sides_that_do_not_add_up_are_named_with_the_size_of_the_conflict() -> None:
    found = static_budget(
        statics(
            tesp=about(200.0, 0.02, "Pa"), return_static=about(60.0, 0.02, "Pa"), supply_static=about(80.0, 0.02, "Pa")
        )
    )
    assert [p.code for p in found.problems] == ["network-statics-disagree"]
    assert "60 Pa apart" in found.problems[0].found


def test_a_part_nobody_measured_stays_missing_and_is_said_to_hide_in_the_rest() -> None:
    found = static_budget(statics(tesp=about(200.0, 0.02, "Pa"), coil_drop=Missing.NOT_ACCESSIBLE))
    parts = {p.name: p.pressure for p in found.parts}
    assert parts["coil"] is Missing.NOT_ACCESSIBLE
    assert parts["filter"] is Missing.NOT_MEASURED
    assert "ducts and the rest, unmeasured parts included" in parts


def test_a_static_read_at_another_speed_does_not_count() -> None:
    slow = replace(HEATING, air_handler=HandlerMode.CIRCULATE)
    found = static_budget(visit(reading("tesp", about(90.0, 0.02, "Pa"), "air handler", slow)))
    assert found.total is Missing.NOT_MEASURED
