"""Ducts: velocity pressure, friction, equivalent diameters, fittings, flex under compression, purge."""

from __future__ import annotations

from math import pi

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.guards import require_fraction, require_not_negative

ROUGHNESS = {
    "galvanised steel": 0.0003 * 0.3048,
    "fibrous lining": 0.003 * 0.3048,
    "flex, fully stretched": 0.003 * 0.3048,
    "flex, older practice": 0.01 * 0.3048,
}
"""Absolute roughness. [m]; ASHRAE2017 chapter 21 as quoted on public pages, read"""
LOSS_COEFFICIENTS = {
    "smooth 90 degree bend, r/D 0.75": 0.49,
    "smooth 90 degree bend, r/D 1": 0.34,
    "smooth 90 degree bend, r/D 1.5": 0.24,
    "smooth 90 degree bend, r/D 2": 0.22,
    "sharp flush entry": 0.5,
    "bellmouth entry": 0.03,
    "exit": 1.0,
    "90 degree tee, branch": 1.0,
    "45 degree wye, branch": 0.5,
}
"""Velocity pressures lost. [-]; bends from the library Fluids at a friction factor of 0.02, the rest from memory"""
TRAVERSE_DIAMETERS = 7.5
"""Straight duct wanted upstream of a traverse, in diameters. [-]; UFGS15951, read"""
LAMINAR_LIMIT = 2300.0
"""Reynolds number below which pipe flow is taken as laminar. [-]; common practice, no source"""


def velocity_pressure(velocity: Number, air_density: Number) -> Number:
    r"""Return the pressure that moving air makes when it is stopped.

    .. math:: p_v = \rho v^2 / 2

    Parameters
    ----------
    velocity : float or array
        Mean velocity in the duct, v. [m/s]
    air_density : float or array
        Density of the air, rho. [kg/m3]

    Returns
    -------
    velocity_pressure : float or array
        Velocity pressure, p_v. [Pa]

    Notes
    -----
    Valid: speeds far below that of sound. The trade's 4005 is this at 1.204 kg/m3; at 1500 m it is 4384.
    Departs from the source: SI and explicit density instead of the rounded constant.
    Checked against: the 4005 of DuctChapter, read; check values, airflow section 3.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{velocity_pressure(5.08, 1.2014):.1f} Pa")
    15.5 Pa
    """
    return 0.5 * air_density * velocity**2


def round_duct_area(diameter: Number) -> Number:
    r"""Return the cross-section of a round duct.

    .. math:: A = \pi D^2 / 4

    Parameters
    ----------
    diameter : float or array
        Inside diameter, D. [m]

    Returns
    -------
    area : float or array
        Cross-section, A. [m2]

    Notes
    -----
    Valid: always.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3, 8 inch duct.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{round_duct_area(0.2032):.5f}")
    0.03243
    """
    return 0.25 * pi * diameter**2


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


def equivalent_diameter(width: Number, height: Number) -> Number:
    r"""Return the round duct that loses as much pressure at the same flow as a rectangular one.

    .. math:: D_e = 1.30 \, (ab)^{0.625} / (a+b)^{0.25}

    Parameters
    ----------
    width : float or array
        One inside dimension, a. [m]
    height : float or array
        The other inside dimension, b. [m]

    Returns
    -------
    diameter : float or array
        Huebscher's equivalent diameter, D_e: larger than the hydraulic diameter. [m]

    Raises
    ------
    InputError
        If a dimension is not above zero.

    Notes
    -----
    Valid: aspect ratio to 8; beyond, the loss is understated.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 and section 11 (E8).
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md, Huebscher's formula, read.

    Examples
    --------
    >>> print(f"{equivalent_diameter(0.350, 0.200) * 1000:.1f} mm")
    286.4 mm
    """
    require_positive(width=width, height=height)
    diameter: Number = 1.30 * (width * height) ** 0.625 / (width + height) ** 0.25
    return diameter


def hydraulic_diameter(width: Number, height: Number) -> Number:
    r"""Return four times the cross-section over the perimeter of a rectangular duct.

    .. math:: D_h = 2ab / (a+b)

    Parameters
    ----------
    width : float or array
        One inside dimension, a. [m]
    height : float or array
        The other inside dimension, b. [m]

    Returns
    -------
    diameter : float or array
        Hydraulic diameter, D_h; to be used with the true velocity, not with that of a round duct. [m]

    Raises
    ------
    InputError
        If a dimension is not above zero.

    Notes
    -----
    Valid: always; it is a definition.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3, 350x200 mm.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{hydraulic_diameter(0.350, 0.200) * 1000:.1f} mm")
    254.5 mm
    """
    require_positive(width=width, height=height)
    return 2.0 * width * height / (width + height)


def fitting_pressure_drop(loss_coefficient: Number, velocity: Number, air_density: Number) -> Number:
    r"""Return the pressure that a fitting takes.

    .. math:: \Delta p = C \, \rho v^2 / 2

    Parameters
    ----------
    loss_coefficient : float or array
        Velocity pressures lost, C; see LOSS_COEFFICIENTS. [-]
    velocity : float or array
        Mean velocity in the section the coefficient refers to. [m/s]
    air_density : float or array
        Density of the air. [kg/m3]

    Returns
    -------
    pressure_drop : float or array
        Loss of total pressure. [Pa]

    Notes
    -----
    Valid: fittings a few diameters apart; closer ones lose more or less than their sum.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3, worked example of the 8 in run.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{fitting_pressure_drop(1.0, 5.08, 1.2014):.1f} Pa")
    15.5 Pa
    """
    return loss_coefficient * velocity_pressure(velocity, air_density)


def equivalent_length(loss_coefficient: Number, diameter: Number, friction_factor: Number) -> Number:
    r"""Return the straight duct that loses as much as a fitting.

    .. math:: L = C D / f

    Parameters
    ----------
    loss_coefficient : float or array
        Velocity pressures lost, C. [-]
    diameter : float or array
        Inside diameter, D. [m]
    friction_factor : float or array
        Darcy friction factor, f. [-]

    Returns
    -------
    length : float or array
        Equivalent length, L. [m]

    Raises
    ------
    InputError
        If a friction factor is not above zero.

    Notes
    -----
    Valid: near the flow that the friction factor was taken at.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 (29.6 ft).
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{equivalent_length(1.0, 0.2032, 0.0225):.2f} m")
    9.03 m
    """
    require_positive(friction_factor=friction_factor)
    return loss_coefficient * diameter / friction_factor


def flex_compression_factor(compression: Number, diameter: Number) -> Number:
    r"""Return how many times more pressure a compressed flex takes than a stretched one.

    .. math:: PDCF = 1 + 58 \, r_c \, e^{-0.126 D}, \quad D \text{ in inches}

    Parameters
    ----------
    compression : float or array
        Missing length over stretched length, r_c. [-]
    diameter : float or array
        Inside diameter, D. [m]

    Returns
    -------
    compression_factor : float or array
        Multiplier of the stretched duct's pressure drop. [-]

    Raises
    ------
    InputError
        If a compression lies outside 0 to 1 or a diameter is not above zero.

    Notes
    -----
    Valid: 6 to 10 in and up to 30 %; beyond, extrapolated and nothing is raised.
    Departs from the source: diameter in metres, the exponent converted.
    Checked against: the factor 4 and nearly 10 of Abushakra2004, read; formula from memory.
    NaN in, NaN out.

    References
    ----------
    .. [Abushakra2004] docs/references.md.

    Examples
    --------
    >>> print(f"{flex_compression_factor(0.15, 0.2032):.2f}")
    4.18
    """
    require_fraction(compression=compression)
    require_positive(diameter=diameter)
    factor: Number = 1.0 + 58.0 * compression * np.exp(-0.126 * diameter / 0.0254)
    return factor


def purge_time(volume: Number, flow: Number) -> Number:
    r"""Return how long a flow needs to push one volume out.

    .. math:: t = V / Q

    Parameters
    ----------
    volume : float or array
        Volume of duct or tube, V. [m3]
    flow : float or array
        Volume flow, Q. [m3/s]

    Returns
    -------
    duration : float or array
        Time of one purge volume. [s]

    Raises
    ------
    InputError
        If a flow is not above zero.

    Notes
    -----
    Valid: plug flow; three volumes are a usual margin.
    Departs from the source: not at all.
    Checked against: check values, airflow section 8.
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{purge_time(0.0989, 0.118):.2f} s")
    0.84 s
    """
    require_positive(flow=flow)
    return volume / flow


def discard_time(purge_duration: Number, sensor_time_constant: Number, fan_start: Number = 0.0) -> Number:
    r"""Return how long after the fan starts a duct sensor's reading is not yet of the air it should show.

    .. math:: t = \max(3 \, t_p, \; 3 \, \tau, \; t_f)

    Parameters
    ----------
    purge_duration : float or array
        Time of one purge volume, see purge_time, t_p. [s]
    sensor_time_constant : float or array
        Time in which the sensor closes 63 % of a step, tau. [s]
    fan_start : float or array, optional
        Time the fan needs to its full speed, t_f. [s]

    Returns
    -------
    duration : float or array
        Time to set readings aside, t. [s]

    Raises
    ------
    InputError
        If a time is below zero.

    Notes
    -----
    Valid: plug flow and a sensor of first order: 5 % of the step is then left.
    Departs from the source: not at all.
    Checked against: check values, airflow section 8: with a 60 s sensor the sensor dominates; from memory.
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{discard_time(0.84, 60.0, 10.0):.0f} s")
    180 s
    """
    require_not_negative(purge_duration=purge_duration, sensor_time_constant=sensor_time_constant, fan_start=fan_start)
    slowest: Number = np.maximum(3.0 * np.maximum(purge_duration, sensor_time_constant), fan_start)
    return slowest


def traverse_distance(diameter: Number, diameters: float = TRAVERSE_DIAMETERS) -> Number:
    r"""Return how far after a disturbance a flow should be measured.

    Parameters
    ----------
    diameter : float or array
        Inside or equivalent diameter. [m]
    diameters : float, optional
        Straight run wanted, in diameters. [-]

    Returns
    -------
    length : float or array
        Straight duct between disturbance and measuring plane. [m]

    Notes
    -----
    Valid: pitot traverses; lists differ between 7.5 and 8 diameters.
    Departs from the source: not at all.
    Checked against: check values, airflow section 8 (5 ft at 8 in).
    NaN in, NaN out.

    References
    ----------
    .. [UFGS15951] docs/references.md, read.

    Examples
    --------
    >>> print(f"{traverse_distance(0.2032):.2f} m")
    1.52 m
    """
    return diameters * diameter
