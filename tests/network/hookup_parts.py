"""An invented system with a bypass cleaner, and estimates to make it of; trade units in, SI out."""

from __future__ import annotations

from dataclasses import replace

from airtally.estimates import Basis, Estimate
from airtally.network.ducts.blower import Blower
from airtally.network.ducts.fan_curves import MotorKind
from airtally.network.ducts.hookup_parts import CleanerFan, Hookup, LoopDuct, Trunk, TrunkState, fitting

CFM = 0.3048**3 / 60.0
FPM = 0.3048 / 60.0
INCH = 0.0254
FOOT = 0.3048
INCH_OF_WATER = 249.08891
FAHRENHEIT = 1.0 / 1.8
BTU_PER_HOUR = 0.29307107
TON = 12000.0 * BTU_PER_HOUR


def sure(value: float, unit: str = "-") -> Estimate:
    return Estimate(value=value, low=value, high=value, unit=unit, basis=Basis.MEASURED, source="test")


def about(value: float, half: float, unit: str = "-") -> Estimate:
    return Estimate(value=value, low=value - half, high=value + half, unit=unit, basis=Basis.MEASURED, source="test")


def plain_fitting(coefficient: float, count: int = 1, name: str = "smooth 90 degree bend, r/D 2"):  # type: ignore[no-untyped-def]
    """Return a fitting whose coefficient is sure."""
    return replace(fitting(name, count), coefficient=sure(coefficient))


BLOWER = Blower(
    name="heating",
    flow=about(1010 * CFM, 50 * CFM, "m3/s"),
    static=about(0.62 * INCH_OF_WATER, 0.02 * INCH_OF_WATER, "Pa"),
    motor=MotorKind.PSC,
    power=about(480.0, 15.0, "W"),
    filter_drop=about(0.15 * INCH_OF_WATER, 0.02 * INCH_OF_WATER, "Pa"),
    density=1.07,
)

HEATING = TrunkState(
    name="heating",
    flow=BLOWER.flow,
    take_off_static=about(0.19 * INCH_OF_WATER, 0.005 * INCH_OF_WATER, "Pa"),
    re_entry_static=about(0.24 * INCH_OF_WATER, 0.005 * INCH_OF_WATER, "Pa"),
    supply_static=about(0.30 * INCH_OF_WATER, 0.01 * INCH_OF_WATER, "Pa"),
    total_static=BLOWER.static,
    filter_drop=BLOWER.filter_drop,
    blower=BLOWER,
)
CIRCULATE = TrunkState(name="circulate", flow=about(600 * CFM, 60 * CFM, "m3/s"), total_static=about(55.0, 5.0, "Pa"))

LOOP = LoopDuct(
    diameter=10 * INCH,
    rigid_length=about(8 * FOOT, 1 * FOOT, "m"),
    fittings=(
        fitting("90 degree tee, branch"),
        fitting("smooth 90 degree bend, r/D 1.5", 3),
        fitting("hand damper, open"),
        fitting("backdraft damper, open"),
        fitting("exit"),
    ),
    flex_length=about(6 * FOOT, 1 * FOOT, "m"),
)

TRUNK = Trunk(
    width=20 * INCH,
    height=8 * INCH,
    straight_before=about(4 * FOOT, 0.1, "m"),
    tap_distance=about(8 * FOOT, 0.05, "m"),
    straight_after=about(3.5 * FOOT, 0.05, "m"),
)

HOOKUP = Hookup(
    cleaner=CleanerFan(name="bypass cleaner", free_flow=about(250 * CFM, 15 * CFM, "m3/s")),
    efficiency=about(0.97, 0.025),
    loop=LOOP,
    trunk=TRUNK,
    states=(HEATING, CIRCULATE),
    wanted_clean_air=sure(200 * CFM, "m3/s"),
    density=1.07,
)
"""Invented numbers: a split-level's return trunk, altitude about 1,000 m."""
