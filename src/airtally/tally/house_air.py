"""The house as its air sees it: volumes, flows and removal, all SI, one row a draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from airtally.arrays import Booleans, Floats, Integers
from airtally.errors import InputError
from airtally.house.parts import VentilationKind

OFF, CIRCULATE, HEATING = 0, 1, 2
FAN_STATES = ("off", "circulate", "heating")
"""States of the central fan, in the order of the fan axis."""
ON_RETURN_DUCT = -1
"""Zone index of a cleaner, or of a ventilation fan, that is connected to the return duct."""

_SHAPES = {
    "volume": "DZ",
    "infiltration": "DWZ",
    "penetration": "DC",
    "settling": "DFC",
    "handler_flow": "DF",
    "return_share": "DZ",
    "supply_share": "DZ",
    "return_leak": "DL",
    "supply_leak": "D",
    "leak_driver": "L",
    "leak_before_filter": "L",
    "filter_efficiency": "DC",
    "cleaner_flow": "DU",
    "cleaner_efficiency": "DUC",
    "cleaner_recirculated": "DU",
    "cleaner_runs": "UF",
    "cleaner_zone": "U",
    "cleaner_is_portable": "U",
    "ventilation_flow": "DV",
    "ventilation_efficiency": "DVC",
    "ventilation_runs": "VF",
    "ventilation_zone": "V",
    "door_flow": "DFZZ",
    "other_outdoor_flow": "DOZ",
}
_SHARES = (
    "return_leak",
    "supply_leak",
    "filter_efficiency",
    "cleaner_efficiency",
    "cleaner_recirculated",
    "cleaner_runs",
    "ventilation_efficiency",
    "ventilation_runs",
    "penetration",
    "return_share",
    "supply_share",
)
_BY_DRAW = tuple(name for name, axes in _SHAPES.items() if axes[0] == "D")
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseAir:
    """What moves and cleans the air of one house, draw by draw.

    Axes: D draws, Z zones, C species (particle classes, then CO2 last), F fan states (off, circulate,
    heating), W weather levels, O other outdoor openings (the first is 'closed', zero), L return leaks,
    U cleaners, V ventilation fans. Of the last species only air exchange and transport are kept:
    it neither settles nor is filtered, and passes the envelope whole.

    Raises InputError where shapes disagree, a share leaves 0..1, a flow is negative, or door flows do
    not close. NaN passes and travels to the result.
    """

    volume: Floats
    """(D, Z) air volume of each zone. [m3]"""
    infiltration: Floats
    """(D, W, Z) outdoor air through the envelope at each weather level. [m3/s]"""
    penetration: Floats
    """(D, C) share of a species that survives the envelope. [-]"""
    settling: Floats
    """(D, F, C) deposition on surfaces. [1/s]"""
    handler_flow: Floats
    """(D, F) flow of the air handler; off is zero. [m3/s]"""
    return_share: Floats
    """(D, Z) share of the room return drawn from each zone; sums to one. [-]"""
    supply_share: Floats
    """(D, Z) share of the supply blown into each zone; sums to one. [-]"""
    return_leak: Floats
    """(D, L) share of handler flow drawn through each leak instead of the rooms. [-]"""
    supply_leak: Floats
    """(D,) share of what the supply ducts carry that they lose outdoors. [-]"""
    leak_driver: Integers
    """(L,) driver whose air the leak draws: 0 outdoors, then the buffer spaces."""
    leak_before_filter: Booleans
    """(L,) whether the leak air passes on-duct cleaner and filter."""
    filter_efficiency: Floats
    """(D, C) single pass, bypass around the filter included. [-]"""
    cleaner_flow: Floats
    """(D, U) flow of each cleaner's own fan. [m3/s]"""
    cleaner_efficiency: Floats
    """(D, U, C) single pass. [-]"""
    cleaner_recirculated: Floats
    """(D, U) share of its intake that is its own discharge. [-]"""
    cleaner_runs: Floats
    """(U, F) share of the time it runs in each fan state. [-]"""
    cleaner_zone: Integers
    """(U,) zone index, or -1 on the return duct."""
    cleaner_is_portable: Booleans
    """(U,) names the sink: portable or cleaner."""
    ventilation_flow: Floats
    """(D, V) outdoor air moved by each fan. [m3/s]"""
    ventilation_efficiency: Floats
    """(D, V, C) single pass of its own filter. [-]"""
    ventilation_runs: Floats
    """(V, F) share of the time it runs in each fan state. [-]"""
    ventilation_zone: Integers
    """(V,) zone index, or -1: supplies the return duct ahead of the filter, exhausts by return share."""
    ventilation_kind: tuple[VentilationKind, ...]
    """(V,) which way each fan moves outdoor air."""
    door_flow: Floats
    """(D, F, Z, Z) flow from row zone to column zone; what leaves each zone comes back. [m3/s]"""
    other_outdoor_flow: Floats
    """(D, O, Z) outdoor air in each other state, such as window open; the first is zero. [m3/s]"""

    def __post_init__(self) -> None:
        sizes: dict[str, int] = {"F": len(FAN_STATES), "V": len(self.ventilation_kind)}
        for name, axes in _SHAPES.items():
            array = np.asarray(getattr(self, name))
            if array.ndim != len(axes):
                raise InputError(f"{name} must have axes ({', '.join(axes)}); it has {array.ndim} axes")
            for axis, size in zip(axes, array.shape, strict=True):
                if sizes.setdefault(axis, size) != size:
                    raise InputError(f"{name} has {size} along axis {axis}; other fields have {sizes[axis]}")
        self._check_ranges()
        self._check_balances()

    def _check_ranges(self) -> None:
        for name in _SHAPES:
            if name not in ("cleaner_zone", "ventilation_zone") and np.any(np.asarray(getattr(self, name)) < 0):
                raise InputError(f"{name} must not be negative")
        for name in _SHARES:
            if np.any(np.asarray(getattr(self, name)) > 1.0 + _ROUNDING):
                raise InputError(f"{name} is a share and must not exceed one")
        if np.any(self.volume == 0.0):
            raise InputError("volume must be above zero in every zone")
        for name in ("cleaner_zone", "ventilation_zone"):
            where = np.asarray(getattr(self, name))
            if np.any((where < ON_RETURN_DUCT) | (where >= self.zone_count)):
                raise InputError(f"{name} names a zone that does not exist")

    def _check_balances(self) -> None:
        for name in ("return_share", "supply_share"):
            if np.any(np.abs(np.sum(getattr(self, name), axis=1) - 1.0) > _ROUNDING):
                raise InputError(f"{name} must sum to one over the zones")
        if np.any(self.return_leak.sum(axis=1) > 1.0 + _ROUNDING):
            raise InputError("return_leak sums to more than the handler flow")
        if np.any(self.handler_flow[:, OFF] != 0.0):
            raise InputError("handler_flow must be zero in the off state")
        if np.any(self.other_outdoor_flow[:, 0] != 0.0):
            raise InputError("the first row of other_outdoor_flow means 'closed' and must be zero")
        gap = np.abs(self.door_flow.sum(axis=3) - self.door_flow.sum(axis=2))
        if np.any(gap > _ROUNDING * (1e-3 + self.door_flow.sum(axis=3))):
            raise InputError("door_flow must close: what leaves a zone through doors comes back through doors")

    @property
    def draw_count(self) -> int:
        """Number of draws D."""
        return int(self.volume.shape[0])

    @property
    def zone_count(self) -> int:
        """Number of zones Z."""
        return int(self.volume.shape[1])

    @property
    def species_count(self) -> int:
        """Number of species C, CO2 included."""
        return int(self.penetration.shape[1])

    @property
    def weather_count(self) -> int:
        """Number of weather levels W."""
        return int(self.infiltration.shape[1])

    @property
    def opening_count(self) -> int:
        """Number of other outdoor openings O."""
        return int(self.other_outdoor_flow.shape[1])

    @property
    def state_count(self) -> int:
        """Number of states S = W O F."""
        return self.weather_count * self.opening_count * len(FAN_STATES)

    def take(self, draws: Integers | Sequence[int] | slice) -> HouseAir:
        """Return the house of the chosen draws, in the given order."""
        chosen = draws if isinstance(draws, slice) else np.asarray(draws, dtype=np.int64)
        taken: dict[str, Any] = {name: np.asarray(getattr(self, name))[chosen] for name in _BY_DRAW}
        return replace(self, **taken)

    def one(self) -> HouseAir:
        """Return a single house (D = 1) whose every number is the mean over the draws."""
        mean: dict[str, Any] = {name: np.asarray(getattr(self, name)).mean(axis=0, keepdims=True) for name in _BY_DRAW}
        return replace(self, **mean)


def state_index(
    weather: Integers | int, opening: Integers | int, fan: Integers | int, *, opening_count: int
) -> Integers:
    """Return the state index (w O + o) F + f of weather level, other opening and fan state."""
    condition = np.asarray(weather, dtype=np.int64) * opening_count + np.asarray(opening, dtype=np.int64)
    return np.asarray(condition * len(FAN_STATES) + np.asarray(fan, dtype=np.int64))
