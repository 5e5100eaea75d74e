"""The true house of a seed: sizes, leaks, equipment, and the epochs between which they change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from airtally.arrays import Floats
from airtally.demo.aerosols import CLEANER, MERV_8, MERV_13
from airtally.demo.dates import REFERENCE_SEED, Dates, generator
from airtally.demo.quirks import Quirk

CFM = 0.3048**3 / 60.0
"""Cubic feet a minute. [m3/s]"""
CUBIC_FOOT = 0.3048**3
ZONES = ("living", "bedrooms", "family", "workshop", "utility", "garage")
LIVING, BEDROOMS, FAMILY, WORKSHOP, UTILITY, GARAGE = range(6)
ROOMS = 5
"""The first five zones are the house; the garage is a buffer."""
OCCUPIED = (LIVING, BEDROOMS, FAMILY)
ZONE_SHARE = np.array([0.405, 0.275, 0.175, 0.11, 0.035])
EXPONENT = 0.65
REFERENCE_VOLUME_FT3 = 17200.0
GARAGE_VOLUME = 118.0
HEAT_OUTPUT = 64000.0 * 0.29307107
"""Furnace, net. [W]"""
ROOM_SHARES = np.array(
    [
        [0.34, 0.16, 0.26, 0.16, 0.08],
        [0.40, 0.42, 0.10, 0.06, 0.02],
        [0.0, 0.55, 0.45, 0.0, 0.0],
        [0.0, 260.0 / 3600.0, 230.0 / 3600.0, 55.0 / 3600.0, 45.0 / 3600.0],
    ]
)
"""By room: of air in by cracks, of air out, of air through the garage wall [-]; two-way flow through its door [m3/s]."""
_Draw = Callable[[float, float], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Epoch:
    """True equipment between two instants; flows [m3/s], shares and efficiencies [-].

    Attributes
    ----------
    since : float
        Begin. [s, POSIX UTC]
    name : str
        What began it.
    cfm50 : float
        House leakage at 50 Pa. [cfm]
    leak, utility_leak : float
        Share of handler flow drawn from garage (or outdoors) and by cabinet gaps from the utility room.
    supply_leak : float
        Share of handler flow blown outdoors.
    heating_flow, circulate_flow, hood_flow, grille_flow : float
        ``grille_flow`` passes both ways through a return grille while the fan stands still.
    hood_capture : float
        Share of the cooking emission that the hood takes.
    returns, supplies : Floats, shape (5,)
        Shares by room, each sums to one.
    filter_number : int
        Counts filters, so that dust starts at zero with each.
    efficiency : Floats, shape (8,)
        Filter when new, around which ``bypass`` of the air goes.
    cleaner_flow, recirculated : float
        Zero flow: none there.
    heating_drop : float
        Filter drop at heating flow when new. [inH2O]
    dust_rise : float
        Rise of the drop per 100 h of fan. [inH2O]
    """

    since: float
    name: str
    cfm50: float
    leak: float
    utility_leak: float
    supply_leak: float
    heating_flow: float
    circulate_flow: float
    hood_flow: float
    grille_flow: float
    hood_capture: float
    returns: Floats
    supplies: Floats
    filter_number: int
    efficiency: Floats
    bypass: float
    cleaner_flow: float
    recirculated: float
    heating_drop: float
    dust_rise: float

    @property
    def leak_coefficient(self) -> float:
        """Return the envelope's flow at 1 Pa. [m3/s]"""
        return float(self.cfm50 / 50.0**EXPONENT * CFM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The true house: ``volume`` by zone [m3], everything that does not change, and its epochs."""

    volume: Floats
    house_ft3: float
    epochs: tuple[Epoch, ...]
    leak_is_garage: bool
    garage_share: float
    """Share of the house's natural inflow that comes through the garage. [-]"""
    stack_factor: float
    wind_factor: float
    settling_factor: float
    fan_settling: float
    """Settling with the fan on over settling with it off. [-]"""
    duct_volume: float
    """[m3]"""
    heat_loss: float
    """[W/K]"""
    fireplace_flow: float
    """[m3/s]"""
    outdoor_coarse: float
    cleaner_efficiency: Floats
    emission_factor: float
    """This household's emissions over the usual ones. [-]"""

    @property
    def house_volume(self) -> float:
        """Return the volume of the five rooms. [m3]"""
        return float(np.sum(self.volume[:ROOMS]))

    def epoch_at(self, time: float) -> Epoch:
        """Return the epoch in force at an instant [s, POSIX UTC]."""
        return [e for e in self.epochs if e.since <= time or e is self.epochs[0]][-1]


def make_plan(seed: int, quirks: frozenset[Quirk], dates: Dates) -> Plan:
    """Return the true house of a seed; seed 1 is the reference house."""
    rng = generator(seed, "house")

    def drawn(middle: float, spread: float) -> float:
        factor = float(np.exp(spread * rng.standard_normal()))
        return middle if seed == REFERENCE_SEED else middle * factor

    house_ft3 = drawn(REFERENCE_VOLUME_FT3, 0.10)
    volume = np.append(ZONE_SHARE * house_ft3 * CUBIC_FOOT, drawn(GARAGE_VOLUME, 0.12))
    size = house_ft3 / REFERENCE_VOLUME_FT3
    before = _before(quirks, dates, drawn, size)
    return Plan(
        volume=volume,
        house_ft3=house_ft3,
        epochs=_epochs(before, quirks, dates, drawn, seed),
        leak_is_garage=Quirk.GARAGE_PATH in quirks,
        garage_share=drawn(0.11, 0.2) if Quirk.GARAGE_PATH in quirks else 0.01,
        stack_factor=drawn(0.105, 0.12),
        wind_factor=drawn(0.12, 0.15),
        settling_factor=drawn(1.0, 0.12),
        fan_settling=min(max(drawn(1.4, 0.06), 1.2), 1.6),
        duct_volume=drawn(2.6, 0.15),
        heat_loss=drawn(350.0, 0.08) * size**0.7,
        fireplace_flow=drawn(300.0, 0.12) * CFM,
        outdoor_coarse=drawn(0.9, 0.2),
        cleaner_efficiency=CLEANER,
        emission_factor=drawn(1.0, 0.15),
    )


def _before(quirks: frozenset[Quirk], dates: Dates, drawn: _Draw, size: float) -> Epoch:
    has_grille = Quirk.WORKSHOP_GRILLE in quirks
    returns = np.array([0.45, 0.26, 0.12, 0.17, 0.0]) if has_grille else np.array([0.48, 0.30, 0.22, 0.0, 0.0])
    return Epoch(
        since=dates.start,
        name="as found",
        cfm50=drawn(2350.0, 0.08) * size,
        leak=min(drawn(0.12, 0.15), 0.17),
        utility_leak=drawn(0.05, 0.1),
        supply_leak=drawn(0.035, 0.2),
        heating_flow=drawn(940.0, 0.06) * CFM,
        circulate_flow=drawn(600.0, 0.05) * CFM,
        hood_flow=drawn(58.0, 0.1) * CFM,
        grille_flow=60.0 / 3600.0 if has_grille else 0.0,
        hood_capture=0.12,
        returns=returns,
        supplies=np.array([0.40, 0.33, 0.19, 0.08, 0.0]),
        filter_number=0,
        efficiency=MERV_8 * min(drawn(1.0, 0.1), 1.15),
        bypass=min(drawn(0.15, 0.2), 0.25),
        cleaner_flow=0.0,
        recirculated=0.0,
        heating_drop=0.36,
        dust_rise=0.12,
    )


def _epochs(before: Epoch, quirks: frozenset[Quirk], dates: Dates, drawn: _Draw, seed: int) -> tuple[Epoch, ...]:
    """Return the epochs in order: sealing, filter, hood, cleaner, and the filter that did not fit."""
    flow = drawn(218.0, 0.07) * CFM
    merv = MERV_13 * min(drawn(1.0, 0.04), 1.02)
    recirculated = min(drawn(0.10, 0.25), 0.2)
    if Quirk.NO_WORK in quirks:
        return (before, replace(before, since=dates.at(31, 12.0), name="works that changed nothing"))
    sealed = replace(
        before,
        since=dates.at(30, 12.0),
        name="sealing",
        cfm50=before.cfm50 * 2190.0 / 2350.0,
        leak=before.leak * 0.17,
        utility_leak=0.006,
        supply_leak=before.supply_leak * 0.5,
        heating_flow=before.heating_flow * 900.0 / 940.0,
        grille_flow=0.0,
        returns=np.array([0.50, 0.30, 0.20, 0.0, 0.0]),
    )
    filtered = replace(
        sealed,
        since=dates.at(30, 15.0),
        name="filter",
        heating_flow=before.heating_flow * 1010.0 / 940.0,
        circulate_flow=before.circulate_flow * 640.0 / 600.0,
        filter_number=1,
        efficiency=merv,
        bypass=0.03,
        heating_drop=0.15,
        dust_rise=0.004,
    )
    vented = replace(
        filtered, since=dates.at(30, 16.0), name="hood", hood_flow=before.hood_flow * 165.0 / 58.0, hood_capture=0.5
    )
    share = 0.5 if Quirk.CLEANER_SHORT_CIRCUIT in quirks else recirculated
    cleaned = replace(vented, since=dates.at(31, 12.0), name="cleaner", cleaner_flow=flow, recirculated=share)
    epochs = [before, sealed, filtered, vented, cleaned]
    if Quirk.FILTER_GAP in quirks:
        gap = 0.44 if seed == REFERENCE_SEED else float(generator(seed, "gap").uniform(0.38, 0.52))
        wrong = replace(
            cleaned,
            since=dates.filter_gap[0],
            name="wrong filter",
            filter_number=2,
            bypass=gap,
            heating_drop=0.11,
        )
        epochs += [wrong, replace(cleaned, since=dates.filter_gap[1], name="right filter", filter_number=3)]
    return tuple(e for e in epochs if e.since < dates.end)
