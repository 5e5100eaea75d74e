"""The parts of a bypass cleaner's hookup as a contractor names them: fan, loop, taps, trunk, blower states."""

from __future__ import annotations

from dataclasses import dataclass, replace

from airtally.errors import InputError, Problem
from airtally.estimates import Basis, Estimate
from airtally.network.ducts.blower import Blower
from airtally.network.ducts.fan_curves import (
    RATED_CURVE_SHAPE,
    FanCurve,
    FanTable,
    RatedFan,
    ScaledCurve,
    TableCurve,
    at_density,
    curve_from_table,
)
from airtally.network.spread import default, total
from airtally.physics.constants import STANDARD_AIR_DENSITY
from airtally.physics.ducts.fittings import LOSS_COEFFICIENTS
from airtally.physics.ducts.friction import ROUGHNESS
from airtally.physics.ducts.sections import equivalent_diameter
from airtally.physics.filters.loop import TapOrder

TRADE_DIAMETERS = tuple(0.0254 * inches for inches in (5, 6, 7, 8, 9, 10, 12, 14))
"""Round ducts sold, 5 to 14 inch. [m]; common practice, no source"""
STANDARD_VISCOSITY = 1.82e-5
"""Dynamic viscosity of air at room temperature. [Pa s]"""
DAMPER_COEFFICIENTS = {"hand damper, open": (0.2, 0.1, 0.5), "backdraft damper, open": (1.0, 0.4, 3.0)}
"""Velocity pressures lost: value and interval. [-]; from memory"""
FITTING_SPREAD = 0.3
"""Half width of a fitting's coefficient over itself: fittings stand closer than in the tables. [-]; judgement"""
CLEANER_SHUT_OFF = default(
    150.0, 60.0, 300.0, "Pa", "default: shut-off pressure of a cleaner's fan; judgement, no fan table was given"
)
"""About 0.6 inH2O (0.24 to 1.2). [Pa]"""
STOPPED_BLOWER = default(
    1.0,
    0.3,
    3.0,
    "-",
    "default: pressure of a stopped blower and its cabinet over the total external static; judgement",
)
"""At one flow. [-]; no published figure was found"""
BOX_SHARE = default(
    0.6, 0.3, 1.0, "-", "default: pressure of the cleaner's own box at its free flow over its shut-off; judgement"
)
"""Needed only for air that is driven through the stopped cleaner. [-]"""
MIXED_BACK_APART = default(0.02, 0.0, 0.10, "-", "default: own air taken in again, taps well apart; judgement")
MIXED_BACK_CLOSE = default(0.10, 0.0, 0.40, "-", "default: own air taken in again, taps close together; judgement")
MIXED_BACK_UNKNOWN = default(
    0.10, 0.0, 0.40, "-", "default: own air taken in again, distance between the taps not known; judgement"
)
CLOSE_TAPS = 3.0
"""Trunk diameters between the taps below which they count as close. [-]; judgement, no published distance was found"""


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanerFan:
    """The cleaner's own fan, its filters in place.

    Attributes
    ----------
    name : str
        What pages call the cleaner.
    free_flow : Estimate or None
        Flow with nothing attached: what a label says. [m3/s]
    shut_off : Estimate
        Pressure at no flow. [Pa]
    shape : Estimate
        Exponent between those two ends. [-]
    table : FanTable or None
        Goes before the two ends where there is one.
    power : Estimate or None
        Electric power. [W]
    """

    name: str
    free_flow: Estimate | None = None
    shut_off: Estimate = CLEANER_SHUT_OFF
    shape: Estimate = RATED_CURVE_SHAPE
    table: FanTable | None = None
    power: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopFitting:
    """A fitting of the loop. ``coefficient`` of one [-]; ``count`` how many of it."""

    name: str
    count: int
    coefficient: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopDuct:
    """The loop's duct and fittings: take-off, cleaner, re-entry. ``diameter`` inside [m], lengths [m].

    ``flex_compression`` is missing length over stretched length [-]; ``roughness`` of the rigid part [m].
    """

    diameter: float
    rigid_length: Estimate
    fittings: tuple[LoopFitting, ...]
    flex_length: Estimate | None = None
    flex_compression: Estimate | None = None
    roughness: float = ROUGHNESS["galvanised steel"]
    flex_roughness: float = ROUGHNESS["flex, fully stretched"]
    is_proposed: bool = False
    """Whether this is a usual loop to start a design from, not one that was laid out or built."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trunk:
    """The return trunk at the taps. ``width``, ``height`` inside, the same for a round one [m].

    Lengths along it [m], None where nobody measured: ``straight_before`` from the last branch or elbow to the first
    tap, ``tap_distance`` between the taps, ``straight_after`` from the second tap to the filter cabinet.
    """

    width: float
    height: float
    straight_before: Estimate | None = None
    tap_distance: Estimate | None = None
    straight_after: Estimate | None = None
    is_round: bool = False
    roughness: float = ROUGHNESS["galvanised steel"]
    order: TapOrder = TapOrder.TAKE_OFF_FIRST
    is_assumed: bool = False
    """Whether nobody measured its section."""

    @property
    def diameter(self) -> float:
        """Diameter, or Huebscher's equivalent. [m]"""
        return self.width if self.is_round else float(equivalent_diameter(self.width, self.height))


@dataclass(frozen=True, slots=True, kw_only=True)
class TrunkState:
    """The trunk at one blower speed, read with the cleaner off.

    Attributes
    ----------
    name : str
        Blower speed: heating, cooling, circulate.
    flow : Estimate
        Flow that the trunk brings to the taps. [m3/s]
    take_off_static, re_entry_static : Estimate or None
        Suction at the two taps, magnitudes. [Pa]
    supply_static : Estimate or None
        Pressure in the supply plenum. [Pa]
    total_static : Estimate or None
        Total external static. [Pa]
    filter_drop : Estimate or None
        Part of it that the filter takes. [Pa]
    blower : Blower or None
        For what the loop changes in the airflow.
    measured_loop_flow : Estimate or None
        The cleaner's flow as installed, at this speed; governs where there is one. [m3/s]
    """

    name: str
    flow: Estimate
    take_off_static: Estimate | None = None
    re_entry_static: Estimate | None = None
    supply_static: Estimate | None = None
    total_static: Estimate | None = None
    filter_drop: Estimate | None = None
    blower: Blower | None = None
    measured_loop_flow: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hookup:
    """A bypass cleaner and where it is to be tapped in.

    Attributes
    ----------
    cleaner : CleanerFan
    efficiency : Estimate
        Single pass, for the particles asked about. [-]
    loop : LoopDuct
    trunk : Trunk
    states : tuple of TrunkState
        One a blower speed; the first is the speed the hookup is designed for.
    wanted_clean_air : Estimate or None
        Clean air wanted at that speed [m3/s]; None asks only what comes of it.
    mixed_back : Estimate or None
        Own air taken in again besides what the flows make, where it was measured. [-]
    measured_off_flow : Estimate or None
        The cleaner's flow as installed with the blower off. [m3/s]
    density, viscosity : float
        Of the air in the ducts. [kg/m3], [Pa s]
    """

    cleaner: CleanerFan
    efficiency: Estimate
    loop: LoopDuct
    trunk: Trunk
    states: tuple[TrunkState, ...]
    wanted_clean_air: Estimate | None = None
    mixed_back: Estimate | None = None
    measured_off_flow: Estimate | None = None
    density: float = STANDARD_AIR_DENSITY
    viscosity: float = STANDARD_VISCOSITY

    @property
    def own_air(self) -> Estimate:
        """Own air taken in again by mixing, measured or by how far apart the taps are. [-]"""
        if self.mixed_back is not None:
            return self.mixed_back
        distance = self.trunk.tap_distance
        if distance is None:
            return MIXED_BACK_UNKNOWN
        is_close = distance.value < CLOSE_TAPS * self.trunk.diameter
        return MIXED_BACK_CLOSE if is_close else MIXED_BACK_APART


def size_words(diameter: float) -> str:
    """Return a round duct's diameter [m] as a message shows it."""
    return f"{diameter * 1000.0:.0f} mm ({diameter / 0.0254:.0f} in) duct"


def fitting(name: str, count: int = 1) -> LoopFitting:
    """Return a fitting of the loop with its coefficient [-] and interval by its name in the tables.

    Raises
    ------
    InputError
        If no table holds the name.
    """
    if name in DAMPER_COEFFICIENTS:
        value, low, high = DAMPER_COEFFICIENTS[name]
        source = "loss coefficient from memory"
    elif name in LOSS_COEFFICIENTS:
        value = LOSS_COEFFICIENTS[name]
        low, high = value * (1.0 - FITTING_SPREAD), value * (1.0 + FITTING_SPREAD)
        source = "tabled loss coefficient, +-30 % for fittings close together: judgement"
    else:
        raise InputError(
            f"no fitting is called {name!r}; known: {', '.join((*LOSS_COEFFICIENTS, *DAMPER_COEFFICIENTS))}"
        )
    return LoopFitting(name=name, count=count, coefficient=default(value, low, high, "-", source))


def loss_coefficients(loop: LoopDuct) -> Estimate:
    """Return the sum of the loop's loss coefficients [-]; alike fittings move together, unlike ones alone."""
    parts = tuple(
        replace(
            one.coefficient,
            value=one.count * one.coefficient.value,
            low=one.count * one.coefficient.low,
            high=one.count * one.coefficient.high,
        )
        for one in loop.fittings
    )
    return total(parts, unit="-", source="loss coefficients of the loop")


def cleaner_curve_inputs(
    fan: CleanerFan,
) -> tuple[tuple[Estimate, ...], TableCurve | None, tuple[Problem, ...]]:
    """Return the uncertain numbers of the cleaner's curve, its table where it has one, and what was found about it.

    With a table the one number is a factor on its pressure, 1 (0.85 to 1.15): filters load and boxes differ.
    A table that holds no curve falls back on the two ends; without either there is no cleaner to design with.

    Raises
    ------
    InputError
        If neither a usable table nor a free flow is given.
    """
    problems: tuple[Problem, ...] = ()
    if fan.table is not None:
        curve, problems = curve_from_table(fan.table)
        if curve is not None:
            return (TABLE_FACTOR,), curve, problems
    if fan.free_flow is None:
        raise InputError(f"{fan.name}: a fan table or the flow with nothing attached is needed")
    return (fan.free_flow, fan.shut_off, fan.shape), None, problems


TABLE_FACTOR = Estimate(
    value=1.0, low=0.85, high=1.15, unit="-", basis=Basis.DEFAULT,
    source="default: cleaner's pressure over its fan table; filters load, boxes differ; judgement",
)  # fmt: skip


def cleaner_curve(table: TableCurve | None, density: float, *numbers: float) -> FanCurve:
    """Return the cleaner's curve in air of a density [kg/m3] from the numbers that ``cleaner_curve_inputs`` names."""
    if table is not None:
        return ScaledCurve(curve=at_density(table, numbers[0] * density / table.density))
    free_flow, shut_off, shape = numbers
    return RatedFan(free_flow=free_flow, shut_off=shut_off * density / STANDARD_AIR_DENSITY, shape=shape)


def usual_loop(diameter: float) -> LoopDuct:
    """Return a loop to start a design from, a diameter [m]: take-off, three bends, both dampers, flex, re-entry."""
    said = "default: a usual loop to start from; lay it out and measure"
    return LoopDuct(
        diameter=diameter,
        rigid_length=default(2.4, 1.2, 4.5, "m", said),
        flex_length=default(1.5, 0.0, 3.0, "m", said),
        fittings=(
            fitting("90 degree tee, branch"),
            fitting("hand damper, open"),
            fitting("smooth 90 degree bend, r/D 1.5", 3),
            fitting("backdraft damper, open"),
            fitting("exit"),
        ),
        is_proposed=True,
    )
