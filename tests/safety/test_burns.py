"""Tests with a fire: noted on a visit, or logged; what they speak for and what works make stale."""

from __future__ import annotations

from dataclasses import replace

import pytest
from safety_houses import EMPTY, FIREPLACE, FURNACE, START, TEST_IN, about, appliance, house, looks, reading, visit
from test_assess import burning

from airtally.house.parts import Affects, Appliance, ApplianceKind, Change, Exhaust, ExhaustKind, House, Venting
from airtally.safety import Grade, assess, fires_tested
from airtally.visits import Visit, VisitKind

BURN = reading("burn_pressure_change", about(-7.0, "Pa", 0.5), place="main")
STOVE = Appliance(id="stove", kind=ApplianceKind.STOVE, zone="utility", venting=Venting.CLOSED_CHIMNEY, fuel="wood")


def works(home: House, affects: Affects = Affects.ENVELOPE) -> House:
    change = Change(id="works", time=TEST_IN + 86400.0, name="works", affects=(affects,), begins_phase=True)
    return replace(home, changes=(change,))


def test_a_burn_noted_on_a_visit_is_held_against_the_limits_of_hearths() -> None:
    """Limit: at most -5 Pa, Northwest checklist item 7.2 (read)."""
    verdict = assess(house(FIREPLACE, FURNACE), (visit(BURN),), EMPTY)
    assert verdict.find("safety-not-tested-with-fire") == ()
    (finding,) = verdict.find("safety-fire-logged")
    assert dict(finding.figures)["change"].value == -7.0
    assert "read" not in dict(finding.figures)
    assert "logged on a visit" in finding.sentence
    assert any(one.printed == "at most -5 Pa" and one.is_crossed for one in finding.limits)
    assert finding.grade is Grade.STOP
    mild = replace(BURN, value=about(-2.0, "Pa", 0.5))
    (finding,) = assess(house(FIREPLACE), (visit(mild),), EMPTY).find("safety-fire-logged")
    assert not any(one.is_crossed for one in finding.limits)


@pytest.mark.parametrize(
    ("home", "noted", "expected"),
    [
        (house(FIREPLACE), visit(BURN), {"fireplace"}),
        (works(house(FIREPLACE)), visit(BURN), set()),
        (works(house(FIREPLACE), Affects.FAN_RULE), visit(BURN), {"fireplace"}),
        (works(house(FIREPLACE)), visit(BURN, kind=VisitKind.TEST_OUT), {"fireplace"}),
        (house(FIREPLACE), visit(replace(BURN, reference="bedrooms")), set()),
        (house(FIREPLACE), visit(replace(BURN, place="utility")), {"fireplace"}),  # the only fire there is
        (house(FIREPLACE, STOVE), visit(BURN), {"fireplace"}),
        (house(FIREPLACE, STOVE), visit(replace(BURN, place="garage")), set()),
        (house(appliance()), visit(BURN), set()),
        (house(appliance()), visit(reading("draft", about(-4.0, "Pa"), place="water-heater")), {"water-heater"}),
        (house(appliance()), visit(reading("spillage_time", about(30.0, "s"), place="water-heater")), {"water-heater"}),
        (works(house(appliance())), visit(reading("draft", about(-4.0, "Pa"), place="water-heater")), set()),
        (house(appliance()), visit(reading("draft", about(-4.0, "Pa"), place="furnace")), set()),
    ],
)
def test_what_a_reading_with_a_fire_lit_speaks_for(home: House, noted: Visit, expected: set[str]) -> None:
    assert fires_tested(home, (noted,), EMPTY) == expected


def test_a_logged_fire_counts_for_the_hearth_and_for_an_open_fire_surveyed_as_an_exhaust() -> None:
    fire, logged = burning(-4.0)
    home = house(FIREPLACE, diary=(fire,))
    draw = Exhaust(id="draw", kind=ExhaustKind.FIREPLACE, zone="main", flow=about(0.19, "m3/s"))
    home = replace(home, exhausts=(*home.exhausts, draw))
    assert fires_tested(home, (), logged) == {"fireplace", "draw"}
    assert fires_tested(home, (), EMPTY) == frozenset()
    assert fires_tested(replace(home, appliances=(FIREPLACE, STOVE)), (), logged) == {"stove"}  # logged in its room


def test_the_deepest_burn_speaks_whoever_logged_it() -> None:
    fire, logged = burning(-3.0)
    home = house(FIREPLACE, diary=(fire,))
    (finding,) = assess(home, (looks(replace(BURN, time=START)),), logged).find("safety-fire-logged")
    assert dict(finding.figures)["change"].value == -7.0
    assert "fires logged: 2" in finding.sentence
