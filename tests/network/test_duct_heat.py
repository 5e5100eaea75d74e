"""Heat of duct runs in a crawlspace: the published table, laws and refusals."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from airtally.errors import InputError
from airtally.estimates import Basis, Estimate
from airtally.network.ducts.duct_heat import (
    RESISTANCE_PER_R,
    RESISTANCES,
    DuctRun,
    DuctSide,
    Insulation,
    duct_heat,
    insulate,
)

CFM = 0.3048**3 / 60.0
INCH = 0.0254
FOOT = 0.3048
BTU_PER_H = 1055.05585262 / 3600.0


def sure(value: float, unit: str) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit=unit, basis=Basis.MEASURED, source="test")


def fahrenheit(value: float) -> Estimate:
    return sure((value + 459.67) / 1.8, "K")


def rated(value: float) -> Estimate:
    return sure(value * RESISTANCE_PER_R, "m2 K/W")


def run(resistance: Estimate | None = None, inlet: float = 120.0, around: float = 40.0) -> DuctRun:
    return DuctRun(
        name="trunk", side=DuctSide.SUPPLY, length=sure(30.0 * FOOT, "m"), width=sure(8.0 * INCH, "m"),
        flow=sure(250.0 * CFM, "m3/s"), inlet_temperature=fahrenheit(inlet), ambient_temperature=fahrenheit(around),
        resistance=resistance or rated(6.0),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("r", "exit_temperature", "loss"),
    [(1.0, 103.39, 4485.0), (4.2, 115.69, 1164.0), (6.0, 116.96, 822.0), (8.0, 117.71, 619.0)],
)
def test_loss_of_the_published_run_is_met(r: float, exit_temperature: float, loss: float) -> None:
    """Computed table, 8 in x 30 ft, 250 cfm, 120 F in, crawlspace 40 F; R-6 is worked example E12."""
    heat = duct_heat(run(rated(r)))
    assert_allclose(heat.exit_temperature.value * 1.8 - 459.67, exit_temperature, atol=0.006)
    assert_allclose(heat.heat_loss.value / BTU_PER_H, loss, rtol=1e-3)
    assert_allclose(heat.temperature_change.value * 1.8, exit_temperature - 120.0, atol=0.006)


def test_insulating_the_bare_run_saves_the_difference_of_the_table() -> None:
    """Same table: 4485 bare, 619 at R-8."""
    choice = insulate(run(rated(1.0)), rated(8.0))
    assert_allclose(choice.saved.value / BTU_PER_H, 4485.0 - 619.0, rtol=1e-3)
    assert_allclose(choice.found.heat_loss.value - choice.insulated.heat_loss.value, choice.saved.value, rtol=1e-9)


def test_return_in_a_summer_attic_gains_and_insulation_saves_there_too() -> None:
    hot = replace(run(inlet=75.0, around=120.0), side=DuctSide.RETURN)
    heat = duct_heat(hot)
    assert heat.heat_loss.value < 0.0 < heat.temperature_change.value
    assert insulate(hot, Insulation.R8).saved.value > 0.0


def test_an_unseen_wrapping_widens_the_answer_and_a_known_one_stands_within_it() -> None:
    unknown = duct_heat(run(RESISTANCES[Insulation.UNKNOWN])).heat_loss
    for kind in (Insulation.BARE, Insulation.R6, Insulation.R8):
        known = duct_heat(run(RESISTANCES[kind])).heat_loss
        assert unknown.low <= known.value <= unknown.high
        assert known.high - known.low < unknown.high - unknown.low


def test_saved_heat_is_surer_than_two_losses_apart() -> None:
    """What both share (here the crawlspace's temperature) counts once."""
    unsure = replace(run(rated(1.0)), ambient_temperature=Estimate(
        value=277.6, low=272.0, high=283.0, unit="K", basis=Basis.MEASURED, source="test"))  # fmt: skip
    choice = insulate(unsure, rated(8.0))
    apart = (choice.found.heat_loss.high - choice.found.heat_loss.low) + (
        choice.insulated.heat_loss.high - choice.insulated.heat_loss.low
    )
    assert 0.0 < choice.saved.high - choice.saved.low < apart


@given(length=st.floats(0.0, 40.0), flow=st.floats(0.02, 0.6), r=st.floats(0.1, 2.0))
@settings(max_examples=40, deadline=None)
def test_exit_lies_between_inlet_and_surroundings_and_length_only_brings_it_nearer(
    length: float, flow: float, r: float
) -> None:
    short = replace(run(sure(r, "m2 K/W")), length=sure(length, "m"), flow=sure(flow, "m3/s"))
    longer = replace(short, length=sure(length + 1.0, "m"))
    first, second = duct_heat(short).exit_temperature.value, duct_heat(longer).exit_temperature.value
    assert 277.59 - 1e-6 <= second < first <= 322.04 + 0.01
    # never more than the surface times the whole difference over the resistance (the table's UA dT)
    area = 3.14159266 * 8.0 * INCH * length
    assert duct_heat(short).heat_loss.value <= area / r * (322.0389 - 277.5944) + 1e-6


def test_a_rectangular_run_counts_its_four_sides() -> None:
    flat = replace(run(), width=sure(0.5, "m"), depth=sure(0.2, "m"))
    as_round = replace(run(), width=sure(1.4 / 3.141592653589793, "m"))
    assert_allclose(duct_heat(flat).heat_loss.value, duct_heat(as_round).heat_loss.value, rtol=1e-9)


def test_a_run_that_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="length must not be below zero"):
        duct_heat(replace(run(), length=sure(-1.0, "m")))
    with pytest.raises(InputError, match="must be above zero"):
        duct_heat(replace(run(), flow=sure(0.0, "m3/s")))
    with pytest.raises(InputError, match="must be above zero"):
        insulate(run(), sure(0.0, "m2 K/W"))
