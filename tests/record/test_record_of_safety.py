"""Visit readings in the record: the unit the gauge shows, and a rise of temperature never as a level."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose

from airtally.estimates import Basis, Estimate
from airtally.record.of_safety import as_read


def reading(value: float, unit: str) -> Estimate:
    return Estimate(
        value=value, low=0.98 * value, high=1.02 * value, unit=unit, basis=Basis.MEASURED, source="invented visit"
    )


@pytest.mark.parametrize("key", ["heat_rise", "plate_rise_low", "plate_rise_high"])
def test_a_rise_of_temperature_is_a_difference(key: str) -> None:
    # 71 F of heat rise is 39.4 K (practice paper's test-in); 1 K is 1.8 F by definition.
    shown = as_read(key, reading(71.0 / 1.8, "K"))
    assert shown["unit"] == "degF"
    assert_allclose(shown["value"], 71.0, rtol=1e-12)
    assert_allclose([shown["low"], shown["high"]], [0.98 * 71.0, 1.02 * 71.0], rtol=1e-12)


def test_duct_statics_are_in_inches_of_water_and_room_pressures_in_pascals() -> None:
    # 0.86 in. w.c. at 249.08891 Pa an inch (conventional, 4 degC).
    tesp = as_read("tesp", reading(0.86 * 249.08891, "Pa"))
    assert tesp["unit"] == "inH2O"
    assert_allclose(tesp["value"], 0.86, rtol=1e-9)
    assert as_read("worst_case_pressure_change", reading(5.6, "Pa"))["unit"] == "Pa"
