"""Friction of straight duct: Reynolds number, friction factors, loss, flow at a loss."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.ducts.fittings import velocity_pressure
from airtally.physics.ducts.sections import round_duct_area
from airtally.physics.guards import require_not_negative

ROUGHNESS = {
    "galvanised steel": 0.0003 * 0.3048,
    "fibrous lining": 0.003 * 0.3048,
    "flex, fully stretched": 0.003 * 0.3048,
    "flex, older practice": 0.01 * 0.3048,
}
"""Absolute roughness. [m]; ASHRAE2017 chapter 21 as quoted on public pages, read"""
LAMINAR_LIMIT = 2300.0
"""Reynolds number below which pipe flow is taken as laminar. [-]; common practice, no source"""


def reynolds_number(velocity: Number, diameter: Number, air_density: Number, air_viscosity: Number) -> Number:
    r"""Return the ratio of inertia to viscosity in a duct.

    .. math:: Re = \rho v D / \mu

    Parameters
    ----------
    velocity : float or array
        Mean velocity in the duct, v. [m/s]
    diameter : float or array
        Inside or hydraulic diameter, D. [m]
    air_density : float or array
        Density of the air, rho. [kg/m3]
    air_viscosity : float or array
        Dynamic viscosity, mu. [Pa s]

    Returns
    -------
    reynolds_number : float or array
        Re. [-]

    Raises
    ------
    InputError
        If a viscosity is not above zero.

    Notes
    -----
    Valid: always; it is a definition.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3, 8 inch table.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{reynolds_number(3.638, 0.2032, 1.2014, 1.82e-5):.0f}")
    48798
    """
    require_positive(air_viscosity=air_viscosity)
    return air_density * velocity * diameter / air_viscosity


def friction_factor_colebrook(reynolds_number: Number, relative_roughness: Number) -> Number:
    r"""Return the Darcy friction factor by the implicit equation of Colebrook.

    .. math:: 1/\sqrt f = -2 \log_{10}[\varepsilon/(3.7 D) + 2.51/(Re \sqrt f)]

    Parameters
    ----------
    reynolds_number : float or array
        Re. [-]
    relative_roughness : float or array
        Roughness over diameter, eps/D. [-]

    Returns
    -------
    friction_factor : float or array
        Darcy friction factor, f. [-]

    Raises
    ------
    InputError
        If a Reynolds number is not above zero or a roughness below zero.

    Notes
    -----
    Valid: Re above 4000 and eps/D to 0.05. Below 2300 the laminar 64/Re is returned; between, the turbulent
    value, which is too high. At 8 in and 100 to 400 cfm Altshul-Tsal lies 1 to 2 % above.
    Departs from the source: laminar branch added.
    Checked against: the library Fluids (Colebrook), check values, airflow section 3.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.
    .. [Fluids] docs/references.md, oracle of the tests.

    Examples
    --------
    >>> print(f"{friction_factor_colebrook(48802.0, 0.00045):.4f}")
    0.0225
    """
    require_positive(reynolds_number=reynolds_number)
    require_not_negative(relative_roughness=relative_roughness)
    re = np.asarray(reynolds_number, dtype=float)
    roughness = np.asarray(relative_roughness, dtype=float) / 3.7
    turbulent = np.maximum(re, LAMINAR_LIMIT)
    # u = 1/sqrt(f) solves u = -2 log10(roughness + 2.51 u/Re); Newton from u = 7 gains digits quadratically
    root = np.full(np.broadcast_shapes(re.shape, roughness.shape), 7.0)
    for _ in range(6):
        argument = roughness + 2.51 * root / turbulent
        value = root + 2.0 * np.log10(argument)
        slope = 1.0 + 2.0 / np.log(10.0) * 2.51 / turbulent / argument
        root = root - value / slope
    factor: Number = np.where(re < LAMINAR_LIMIT, 64.0 / re + 0.0 * roughness, root**-2.0)[()]
    return factor


def friction_factor_altshul_tsal(reynolds_number: Number, relative_roughness: Number) -> Number:
    r"""Return the Darcy friction factor by the explicit form of Altshul and Tsal.

    .. math:: f' = 0.11 (\varepsilon/D + 68/Re)^{0.25}; \quad f = f' \text{ if } f' \ge 0.018
        \text{ else } 0.85 f' + 0.0028

    Parameters
    ----------
    reynolds_number : float or array
        Re. [-]
    relative_roughness : float or array
        Roughness over diameter, eps/D. [-]

    Returns
    -------
    friction_factor : float or array
        Darcy friction factor, f. [-]

    Raises
    ------
    InputError
        If a Reynolds number is not above zero or a roughness below zero.

    Notes
    -----
    Valid: Re above 4000; below, it is too low. Within 3 % of Colebrook in house ducts.
    Departs from the source: not at all.
    Checked against: the library Fluids (Tsal_1989), check values, airflow section 3.
    NaN in, NaN out.

    References
    ----------
    .. [Tsal1989] docs/references.md, from memory.
    .. [Fluids] docs/references.md, oracle of the tests.

    Examples
    --------
    >>> print(f"{friction_factor_altshul_tsal(48802.0, 0.00045):.4f}")
    0.0228
    """
    require_positive(reynolds_number=reynolds_number)
    require_not_negative(relative_roughness=relative_roughness)
    first: Number = 0.11 * (relative_roughness + 68.0 / reynolds_number) ** 0.25
    factor: Number = np.where(np.asarray(first) < 0.018, 0.85 * first + 0.0028, first)[()]
    return factor


def friction_pressure_drop(
    flow: Number,
    diameter: Number,
    length: Number,
    roughness: Number,
    air_density: Number,
    air_viscosity: Number,
) -> Number:
    r"""Return the pressure that a straight round duct takes.

    .. math:: \Delta p = f \, (L/D) \, \rho v^2 / 2

    Parameters
    ----------
    flow : float or array
        Volume flow, above zero. [m3/s]
    diameter : float or array
        Inside diameter, or Huebscher's equivalent, D. [m]
    length : float or array
        Length of straight duct, L. [m]
    roughness : float or array
        Absolute roughness, see ROUGHNESS. [m]
    air_density : float or array
        Density of the air, rho. [kg/m3]
    air_viscosity : float or array
        Dynamic viscosity. [Pa s]

    Returns
    -------
    pressure_drop : float or array
        Loss of total pressure. [Pa]

    Raises
    ------
    InputError
        If a flow, diameter or viscosity is not above zero.

    Notes
    -----
    Valid: turbulent flow in stretched duct; a compressed flex takes several times more.
    Departs from the source: friction by Colebrook instead of the chart.
    Checked against: check values, airflow section 3 (8 in) and section 11 (E7); the library Fluids.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.
    .. [Fluids] docs/references.md, oracle of the tests.

    Examples
    --------
    >>> print(f"{friction_pressure_drop(0.118, 0.2032, 30.48, 9.144e-5, 1.2014, 1.82e-5):.1f} Pa")
    26.8 Pa
    """
    require_positive(diameter=diameter)
    velocity = flow / round_duct_area(diameter)
    number = reynolds_number(velocity, diameter, air_density, air_viscosity)
    factor = friction_factor_colebrook(number, roughness / diameter)
    return factor * length / diameter * velocity_pressure(velocity, air_density)


def flow_at_friction(
    pressure_gradient: Number,
    diameter: Number,
    roughness: Number,
    air_density: Number,
    air_viscosity: Number,
) -> Number:
    r"""Return the flow at which a round duct takes a given pressure per length.

    .. math:: Q = -2 A \sqrt{\tfrac{2 D g_p}{\rho}} \log_{10}\left[\frac{\varepsilon}{3.7 D}
        + \frac{2.51 \mu}{D \sqrt{2 D \rho g_p}}\right]

    Parameters
    ----------
    pressure_gradient : float or array
        Loss per length of duct, g_p. [Pa/m]
    diameter : float or array
        Inside diameter, D. [m]
    roughness : float or array
        Absolute roughness, eps. [m]
    air_density : float or array
        Density of the air, rho. [kg/m3]
    air_viscosity : float or array
        Dynamic viscosity, mu. [Pa s]

    Returns
    -------
    flow : float or array
        Volume flow. [m3/s]

    Raises
    ------
    InputError
        If an argument is not above zero (a roughness may be zero).

    Notes
    -----
    Valid: turbulent flow; in laminar flow the value is too high.
    Departs from the source: Colebrook solved for the flow, which needs no iteration.
    Checked against: check values, airflow section 3, flows at 0.1 in.w.c. per 100 ft; friction_pressure_drop inverted.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{flow_at_friction(0.8172, 0.2032, 9.144e-5, 1.2014, 1.82e-5):.4f}")
    0.1132
    """
    require_positive(
        pressure_gradient=pressure_gradient, diameter=diameter, air_density=air_density, air_viscosity=air_viscosity
    )
    require_not_negative(roughness=roughness)
    drive = 2.0 * diameter * pressure_gradient
    rough_part = roughness / (3.7 * diameter)
    smooth_part = 2.51 * air_viscosity / (diameter * np.sqrt(drive * air_density))
    velocity: Number = -2.0 * np.sqrt(drive / air_density) * np.log10(rough_part + smooth_part)
    return velocity * round_duct_area(diameter)
