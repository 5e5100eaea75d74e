"""Clean-air rate of filters and room cleaners."""

from __future__ import annotations

from airtally.arrays import Number
from airtally.physics.guards import require_fraction

ROOM_RULE = 2.0 / 3.0 * 0.3048 / 60.0
"""Two thirds of a cfm per square foot. [m/s]; RoomRule, read"""


def clean_air_rate(flow: Number, efficiency: Number, runtime_fraction: Number = 1.0) -> Number:
    r"""Return the flow of perfectly clean air that a filter amounts to.

    .. math:: Q_c = \eta \, Q \, r

    Parameters
    ----------
    flow : float or array
        Flow through the filter while it runs, Q. [m3/s]
    efficiency : float or array
        Single-pass efficiency including bypass, eta. [-]
    runtime_fraction : float or array, optional
        Share of time it runs, r. [-]

    Returns
    -------
    clean_air_rate : float or array
        Clean-air delivery. [m3/s]

    Raises
    ------
    InputError
        If a share lies outside 0 to 1.

    Notes
    -----
    Valid: mixed air; the mean over a cycle overstates the effect on peaks.
    Departs from the source: not at all.
    Checked against: check values, particles sections 2 and 9 (example 6).
    NaN in, NaN out.

    References
    ----------
    .. [CADR-metrics] docs/references.md.

    Examples
    --------
    >>> print(f"{clean_air_rate(0.5663, 0.625, 0.25):.4f}")
    0.0885
    """
    require_fraction(efficiency=efficiency, runtime_fraction=runtime_fraction)
    return flow * efficiency * runtime_fraction


def chamber_clean_air_rate(volume: Number, decay_rate: Number, natural_decay_rate: Number) -> Number:
    r"""Return a cleaner's clean-air rate from decays with and without it.

    .. math:: Q_c = V (k_e - k_n)

    Parameters
    ----------
    volume : float or array
        Volume of room or chamber, V. [m3]
    decay_rate : float or array
        Decay rate with the cleaner running, k_e. [1/s]
    natural_decay_rate : float or array
        Decay rate without it, k_n. [1/s]

    Returns
    -------
    clean_air_rate : float or array
        Clean-air delivery. [m3/s]

    Notes
    -----
    Valid: one well-mixed room, the same openings and fans in both runs.
    Departs from the source: not at all.
    Checked against: check values, particles section 9, example 7.
    NaN in, NaN out.

    References
    ----------
    .. [CADR-metrics] docs/references.md, method read, formula from memory.

    Examples
    --------
    >>> print(f"{chamber_clean_air_rate(28.54, 0.25 / 60, 0.01 / 60) * 3600:.0f} m3/h")
    411 m3/h
    """
    return volume * (decay_rate - natural_decay_rate)


def clean_air_for_floor_area(floor_area: Number) -> Number:
    r"""Return the clean-air rate that the two-thirds rule asks for a room.

    .. math:: Q_c[\mathrm{cfm}] = \tfrac23 A[\mathrm{ft^2}]

    Parameters
    ----------
    floor_area : float or array
        Floor area of the room, A. [m2]

    Returns
    -------
    clean_air_rate : float or array
        Clean-air delivery asked for. [m3/s]

    Notes
    -----
    Valid: 8 ft ceilings, where it makes 5 air changes an hour.
    Departs from the source: SI.
    Checked against: RoomRule, 120 ft2 to 80 cfm, read.
    NaN in, NaN out.

    References
    ----------
    .. [RoomRule] docs/references.md.

    Examples
    --------
    >>> print(f"{clean_air_for_floor_area(11.148):.5f}")
    0.03775
    """
    return ROOM_RULE * floor_area
