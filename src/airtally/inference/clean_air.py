"""From two loss rates to the clean air of a device, and two sensors of the same run side by side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.errors import InputError
from airtally.estimates import Basis, Estimate


def clean_air_rate(natural: Estimate, device: Estimate, volume: Estimate) -> Estimate:
    """Return the clean air [m3/s] that a device delivers, ``V (k_device - k_natural)``.

    The two sides of each interval are added in quadrature, on the footing that the three inputs err
    independently; a shared error of the sensor's response does not show in it.

    Parameters
    ----------
    natural, device : Estimate
        Total loss rates without and with the device. [1/s]
    volume : Estimate
        Volume of the room or chamber. [m3]
    """
    rate = device.value - natural.value
    value = volume.value * rate
    low = np.hypot(
        np.hypot(device.value - device.low, natural.high - natural.value) * volume.value,
        (volume.value - volume.low) * abs(rate),
    )
    high = np.hypot(
        np.hypot(device.high - device.value, natural.value - natural.low) * volume.value,
        (volume.high - volume.value) * abs(rate),
    )
    return Estimate(
        value=value,
        low=value - float(low),
        high=value + float(high),
        unit="m3/s",
        basis=Basis.FITTED,
        source="decay with the device less decay without, times volume",
        level=min(natural.level, device.level, volume.level),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorDisagreement:
    """Two sensors that saw the same run.

    Attributes
    ----------
    first, second : str
        Names of the sensors.
    ratio : float
        Rate seen by the second over that seen by the first. [-]
    intervals_meet : bool
        Whether the two intervals overlap.
    pooled : Estimate
        Mean of both, its interval from the lower end of the one to the upper end of the other. [unit of the rates]
    """

    first: str
    second: str
    ratio: float
    intervals_meet: bool
    pooled: Estimate

    def sentence(self) -> str:
        """Return the disagreement in plain words."""
        gap = 100.0 * (self.ratio - 1.0)
        more = "more" if gap >= 0.0 else "less"
        meet = "their intervals meet" if self.intervals_meet else "their intervals do not meet"
        return f"{self.second} shows {abs(gap):.0f} % {more} loss than {self.first} in the same run; {meet}"


def compare_sensors(first: str, first_rate: Estimate, second: str, second_rate: Estimate) -> SensorDisagreement:
    """Report how far two sensors of the same run disagree, and a rate that holds both.

    Parameters
    ----------
    first, second : str
        Names of the sensors.
    first_rate, second_rate : Estimate
        The same rate as each of them saw it, in one unit.
    """
    if first_rate.unit != second_rate.unit:
        raise InputError(f"two rates in {first_rate.unit} and {second_rate.unit} cannot be compared")
    low, high = min(first_rate.low, second_rate.low), max(first_rate.high, second_rate.high)
    return SensorDisagreement(
        first=first,
        second=second,
        ratio=second_rate.value / first_rate.value,
        intervals_meet=first_rate.meets(second_rate),
        pooled=Estimate(
            value=0.5 * (first_rate.value + second_rate.value),
            low=low,
            high=high,
            unit=first_rate.unit,
            basis=first_rate.basis,
            source=f"{first} and {second}, same run",
            level=min(first_rate.level, second_rate.level),
        ),
    )
