"""Which limits speak about a thing, and which of them governs."""

from __future__ import annotations

from collections.abc import Iterable

from airtally.errors import InputError
from airtally.limits.records import Governing, Limit, Sense, Status
from airtally.limits.tables import all_limits

BINDING = frozenset({Status.CURRENT, Status.DROPPED})
"""What may govern: a figure that a later edition dropped without a stricter one stays as a caution."""


def limits_on(
    quantity: str, *, applies_to: str | None = None, averaging_time: float | None = None
) -> tuple[Limit, ...]:
    """Return every limit on a quantity, of every edition and status.

    Parameters
    ----------
    quantity : str
        What is limited, as in the records ("carbon monoxide", "house pressure", "PM2.5").
    applies_to : str, optional
        Only those for this kind of appliance or place.
    averaging_time : float, optional
        Only those averaged over this time. [s]

    Returns
    -------
    limits : tuple of Limit
        In file order; empty when nothing is known.
    """
    return tuple(
        limit
        for limit in all_limits()
        if limit.quantity == quantity
        and (applies_to is None or limit.applies_to == applies_to)
        and (averaging_time is None or limit.averaging_time == averaging_time)
    )


def governing(limits: Iterable[Limit], *, with_superseded: bool = False) -> Governing:
    """Return the strictest limit, with every other one kept beside it.

    Parameters
    ----------
    limits : iterable of Limit
        All on one quantity, sense, kind and averaging time.
    with_superseded : bool, optional
        Whether replaced editions, interim targets and mere evidence may govern too.

    Returns
    -------
    governing : Governing
        The strictest that may govern; the others, governing or not, strictest first.

    Raises
    ------
    InputError
        If nothing may govern or the limits are not about one thing.
    """
    given = tuple(limits)
    subjects = {(limit.quantity, limit.sense, limit.applies_to, limit.averaging_time, limit.unit) for limit in given}
    if len(subjects) > 1:
        names = ", ".join(sorted(limit.key for limit in given))
        raise InputError(f"these limits are not about one thing and cannot be ranked: {names}")
    ranked = sorted(given, key=lambda limit: limit.value if limit.sense is Sense.AT_MOST else -limit.value)
    able = [limit for limit in ranked if with_superseded or limit.status in BINDING]
    if not able:
        raise InputError("there is no limit in force among those given")
    first = able[0]
    return Governing(limit=first, others=tuple(limit for limit in ranked if limit is not first))
