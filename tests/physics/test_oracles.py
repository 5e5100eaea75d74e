"""The kernels against libraries written by others: fluids for ducts, psychrolib for moist air."""

from __future__ import annotations

import fluids
import numpy as np
import psychrolib
import pytest
from numpy.testing import assert_allclose

from airtally.physics.air.moist import COLDEST_DEW, air_density, dew_point, pressure_at_altitude
from airtally.physics.ducts.fittings import LOSS_COEFFICIENTS
from airtally.physics.ducts.friction import (
    friction_factor_altshul_tsal,
    friction_factor_colebrook,
    friction_pressure_drop,
)
from airtally.physics.particles.settling import settling_velocity

psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("reynolds", [5e3, 2e4, 1e5, 1e6])
@pytest.mark.parametrize("roughness", [0.0, 1e-4, 4.5e-4, 1e-2])
def test_colebrook_agrees_with_fluids(reynolds, roughness):
    expected = fluids.friction_factor(Re=reynolds, eD=roughness, Method="Colebrook")
    assert_allclose(friction_factor_colebrook(reynolds, roughness), expected, rtol=1e-9)


@pytest.mark.parametrize("reynolds", [5e3, 2e4, 1e5, 1e6])
@pytest.mark.parametrize("roughness", [1e-4, 4.5e-4, 1e-2])
def test_altshul_tsal_agrees_with_fluids(reynolds, roughness):
    expected = fluids.friction_factor(Re=reynolds, eD=roughness, Method="Tsal_1989")
    assert_allclose(friction_factor_altshul_tsal(reynolds, roughness), expected, rtol=1e-9)


@pytest.mark.parametrize(("ratio", "name"), [(0.75, "0.75"), (1.0, "1"), (1.5, "1.5"), (2.0, "2")])
def test_bend_coefficients_are_those_of_fluids(ratio, name):
    bend = fluids.fittings.bend_rounded(Di=0.2032, angle=90.0, fd=0.02, bend_diameters=ratio)
    assert_allclose(LOSS_COEFFICIENTS[f"smooth 90 degree bend, r/D {name}"], bend, atol=0.006)


@pytest.mark.parametrize("temperature", [-25.0, -5.0, 0.0, 10.0, 20.0, 35.0])
@pytest.mark.parametrize("humidity", [0.0, 0.3, 0.9])
@pytest.mark.parametrize("pressure", [101_325.0, 84_556.0])
def test_moist_air_agrees_with_psychrolib(temperature, humidity, pressure):
    ratio = psychrolib.GetHumRatioFromRelHum(temperature, humidity, pressure)
    expected = psychrolib.GetMoistAirDensity(temperature, ratio, pressure)
    assert_allclose(air_density(temperature + 273.15, humidity, pressure), expected, rtol=1e-4)


@pytest.mark.parametrize("temperature", [-20.0, -3.0, 5.0, 24.0, 40.0])
@pytest.mark.parametrize("humidity", [0.05, 0.4, 0.75, 1.0])
def test_dew_point_agrees_with_psychrolib(temperature, humidity):
    expected = psychrolib.GetTDewPointFromRelHum(temperature, humidity)
    assert_allclose(dew_point(temperature + 273.15, humidity) - 273.15, expected, atol=0.002)


def test_dew_point_of_dry_and_of_unknown_air():
    assert_allclose(dew_point(293.15, 0.0), COLDEST_DEW, rtol=1e-12)
    assert COLDEST_DEW == 173.15
    found = dew_point(np.array([293.15, np.nan, 293.15]), np.array([np.nan, 0.5, 0.5]))
    assert np.isnan(found[:2]).all()
    assert found[2] == dew_point(293.15, 0.5)


@pytest.mark.parametrize("altitude", [0.0, 500.0, 1500.0, 3000.0])
def test_the_standard_atmosphere_agrees_with_psychrolib(altitude):
    assert_allclose(pressure_at_altitude(altitude), psychrolib.GetStandardAtmPressure(altitude), rtol=1e-9)


@pytest.mark.parametrize("diameter", [0.3e-6, 1e-6, 10e-6])
def test_settling_without_slip_agrees_with_fluids_in_the_range_of_stokes(diameter):
    expected = fluids.v_terminal(D=diameter, rhop=1000.0, rho=1.2, mu=1.81e-5, Method="Stokes")
    # the library subtracts the buoyancy of air, one part in 800
    assert_allclose(settling_velocity(diameter, 1000.0, 1.81e-5), expected, rtol=2e-3)


def test_friction_agrees_with_fluids_from_end_to_end():
    flow = np.array([0.05, 0.118, 0.2])
    found = friction_pressure_drop(flow, 0.2032, 10.0, 9.144e-5, 1.2014, 1.82e-5)
    for one, loss in zip(flow, np.asarray(found), strict=True):
        speed = one / (np.pi * 0.2032**2 / 4.0)
        reynolds = fluids.Reynolds(V=speed, D=0.2032, rho=1.2014, mu=1.82e-5)
        factor = fluids.friction_factor(Re=reynolds, eD=9.144e-5 / 0.2032, Method="Colebrook")
        expected = fluids.dP_from_K(K=fluids.K_from_f(fd=factor, L=10.0, D=0.2032), rho=1.2014, V=speed)
        assert_allclose(loss, expected, rtol=1e-9)
