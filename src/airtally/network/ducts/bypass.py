"""A cleaner with its own fan on a loop beside the return trunk, against the same filter in line."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.errors import InputError, require_positive
from airtally.estimates import Estimate
from airtally.network.ducts.blower import OperatingPoint, Resistance, operating_point
from airtally.network.spread import spread


def recirculated_share(loop_flow: float, trunk_flow: float, *, is_reversed: bool = False) -> float:
    """Return the part of a loop's intake that is its own discharge, both taps on the return [-].

    Take-off upstream: r = max(0, 1 - Q/q), all of it when the trunk stands still. Taps reversed, perfect
    mixing: r = q/(Q + q). Flows [m3/s].

    Raises
    ------
    InputError
        If the loop flow is not above zero or the trunk flow is below zero.

    Notes
    -----
    Valid: no leak between the taps. Checked against: a derived table of recirculated shares.
    """
    require_positive(loop_flow=loop_flow)
    if trunk_flow < 0.0:
        raise InputError(f"trunk_flow must not be below zero; got {trunk_flow:g}")
    if is_reversed:
        return loop_flow / (trunk_flow + loop_flow)
    return max(0.0, 1.0 - trunk_flow / loop_flow)


def loop_clean_air(loop_flow: float, efficiency: float, recirculated: float) -> float:
    """Return the clean air a loop delivers [m3/s], q eta (1 - r) / (1 - r (1 - eta)).

    ``loop_flow`` [m3/s], ``efficiency`` single pass [-], ``recirculated`` share of the intake [-].

    Notes
    -----
    Valid: steady loop. Checked against: a derived table of clean air by recirculated share, worked example E9.
    """
    short = 1.0 - recirculated * (1.0 - efficiency)
    return loop_flow * efficiency * (1.0 - recirculated) / short if short > 0.0 else 0.0


def series_clean_air(trunk_flow: float, loop_flow: float, loop_efficiency: float, filter_efficiency: float) -> float:
    """Return the clean air of loop and trunk filter in series [m3/s], Q (1 - (1 - eta_b q/Q)(1 - eta_f)).

    Flows [m3/s], efficiencies [-]; the loop's flow must not exceed the trunk's.

    Notes
    -----
    Valid: take-off upstream, no recirculation. Checked against: worked example E9 (analytic).
    """
    require_positive(trunk_flow=trunk_flow)
    if loop_flow > trunk_flow:
        raise InputError("a loop that moves more than its trunk recirculates; use loop_clean_air")
    return trunk_flow * (1.0 - (1.0 - loop_efficiency * loop_flow / trunk_flow) * (1.0 - filter_efficiency))


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanerChoice:
    """In line against bypass on one blower. Flows and clean air [m3/s].

    Attributes
    ----------
    in_line : OperatingPoint
        Where the blower settles with the filter in line.
    in_line_clean_air, bypass_clean_air : Estimate
        Clean air while the blower runs, the trunk filter not counted. [m3/s]
    bypass_clean_air_blower_off : Estimate
        The same with the blower off and the cleaner's fan left on: near zero. [m3/s]
    """

    in_line: OperatingPoint
    in_line_clean_air: Estimate
    bypass_clean_air: Estimate
    bypass_clean_air_blower_off: Estimate


def in_line_or_bypass(
    handler_flow: Estimate,
    static: Estimate,
    filter_resistance: Resistance,
    efficiency: Estimate,
    loop_flow: Estimate,
    shut_off_ratio: Estimate | None = None,
) -> CleanerChoice:
    """Return what a high-efficiency filter does in line and on a bypass loop of a measured blower.

    Parameters
    ----------
    handler_flow, static : Estimate
        Measured point of the blower. [m3/s], [Pa]
    filter_resistance : Resistance
        The filter in line, by its pressure at the measured flow. [Pa]
    efficiency : Estimate
        Single pass. [-]
    loop_flow : Estimate
        Flow of the bypass cleaner as installed. [m3/s]
    shut_off_ratio : Estimate, optional
        From a fan table where there is one.
    """
    point = (
        operating_point(handler_flow, static, filter_resistance)
        if shut_off_ratio is None
        else operating_point(handler_flow, static, filter_resistance, shut_off_ratio)
    )

    def loop(loop_part: float, eta: float, trunk: float) -> float:
        return loop_clean_air(loop_part, eta, recirculated_share(loop_part, trunk))

    return CleanerChoice(
        in_line=point,
        in_line_clean_air=spread(
            lambda q, eta: q * eta, point.flow, efficiency, unit="m3/s", source="in line, blower running"
        ),
        bypass_clean_air=spread(
            loop, loop_flow, efficiency, handler_flow, unit="m3/s", source="return-to-return loop, blower running"
        ),
        bypass_clean_air_blower_off=spread(
            lambda q, eta: loop(q, eta, 0.0), loop_flow, efficiency, unit="m3/s",
            source="return-to-return loop, blower off: the loop cleans only its own air",
        ),
    )  # fmt: skip
