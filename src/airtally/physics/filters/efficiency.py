"""Efficiency of filters: by class, with bypass, of a single pass."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.arrays import Number
from airtally.errors import InputError, require_positive
from airtally.limits.tables import MervEdition, merv_table
from airtally.physics.guards import require_fraction

HEPA_EFFICIENCY = 0.9997
"""Least efficiency at 0.3 um that the name stands for in the United States. [-]; HEPA-definition, read"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassEfficiency:
    """Single-pass efficiency in one size class as a rating leaves it open: ends and middle [-]."""

    low: float
    value: float
    high: float


def merv_efficiency(
    merv: int, edition: MervEdition = MervEdition.CURRENT
) -> tuple[ClassEfficiency, ClassEfficiency, ClassEfficiency]:
    """Return what a MERV says, and leaves open, about efficiency in the three size classes.

    The lower end is the class's own minimum; the upper end the minimum of the next MERV that asks more, for a filter
    that met it would carry that rating; the middle lies between.

    Parameters
    ----------
    merv : int
        Rating, 5 to 16. [-]
    edition : MervEdition, optional
        Which table. [-]

    Returns
    -------
    efficiency : tuple of ClassEfficiency
        For 0.3-1, 1-3 and 3-10 um. [-]

    Raises
    ------
    InputError
        If the rating is not in the table.

    Notes
    -----
    Valid: the test's velocity and a filter without bypass. A rating is a minimum over a loading test; a charged
    medium may fall below it in use, a mechanical one rise above. For wood smoke use the first class.
    Departs from the source: the upper end and middle are ours.
    Checked against: MERV-old table, read; the 2017 table is from memory.
    NaN in, NaN out.

    References
    ----------
    .. [MERV-old] docs/references.md.
    .. [ASHRAE52.2-2017] docs/references.md.

    Examples
    --------
    >>> print(merv_efficiency(13)[0])
    ClassEfficiency(low=0.5, value=0.625, high=0.75)
    """
    rows = merv_table(edition)
    own = next((row for row in rows if row.merv == merv), None)
    if own is None:
        raise InputError(f"merv must be {rows[0].merv} to {rows[-1].merv}; given {merv}")
    found: list[ClassEfficiency] = []
    for size in range(3):
        low = own.minimum[size] or 0.0
        higher = [row.minimum[size] or 0.0 for row in rows if row.merv > merv]
        high = min((least for least in higher if least > low), default=1.0)
        found.append(ClassEfficiency(low=low, value=0.5 * (low + high), high=high))
    first, second, third = found
    return first, second, third


def efficiency_with_bypass(efficiency: Number, bypass_fraction: Number) -> Number:
    r"""Return the efficiency of a filter that lets some air pass around it.

    .. math:: \eta' = \eta \, (1 - b)

    Parameters
    ----------
    efficiency : float or array
        Single-pass efficiency of the medium, eta. [-]
    bypass_fraction : float or array
        Share of the air that goes around, b. [-]

    Returns
    -------
    efficiency : float or array
        Efficiency of filter and gaps together. [-]

    Raises
    ------
    InputError
        If an argument lies outside 0 to 1.

    Notes
    -----
    Valid: a bypass share that does not change with size or flow.
    Departs from the source: derived here.
    Checked against: mass balance of two streams, in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{efficiency_with_bypass(0.85, 0.1):.3f}")
    0.765
    """
    require_fraction(efficiency=efficiency, bypass_fraction=bypass_fraction)
    return efficiency * (1.0 - bypass_fraction)


def single_pass_efficiency(upstream_concentration: Number, downstream_concentration: Number) -> Number:
    r"""Return the share of particles that one pass takes out, from readings on both sides.

    .. math:: \eta = 1 - C_d / C_u

    Parameters
    ----------
    upstream_concentration : float or array
        Concentration before the filter, C_u. [kg/m3]
    downstream_concentration : float or array
        Concentration after it, C_d. [kg/m3]

    Returns
    -------
    efficiency : float or array
        Single-pass efficiency; below zero when more comes out than went in. [-]

    Raises
    ------
    InputError
        If an upstream concentration is not above zero.

    Notes
    -----
    Valid: both readings of the same air and the same sensor response; offsets bias it toward zero.
    Departs from the source: not at all.
    Checked against: its definition, in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [MERV-old] docs/references.md.

    Examples
    --------
    >>> print(f"{single_pass_efficiency(20e-9, 3e-9):.2f}")
    0.85
    """
    require_positive(upstream_concentration=upstream_concentration)
    return 1.0 - downstream_concentration / upstream_concentration
