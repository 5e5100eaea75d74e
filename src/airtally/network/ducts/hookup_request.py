"""What a survey asks of a bypass cleaner's hookup: its loop and trunk as laid out, the rest as usual and marked so."""

from __future__ import annotations

from dataclasses import replace

from airtally.house.parts import House
from airtally.house.passages import BypassLoop
from airtally.network.ducts.hookup_parts import LoopDuct, LoopFitting, Trunk, fitting, usual_loop
from airtally.network.ducts.hookup_survey import USUAL_DIAMETER, USUAL_TRUNK, HookupRequest
from airtally.physics.filters.loop import TapOrder

BEND, HAND_DAMPER, BACKDRAFT_DAMPER = "smooth 90 degree bend, r/D 1.5", "hand damper, open", "backdraft damper, open"


def hookup_request(house: House) -> HookupRequest:
    """Return the hookup that a survey asks for; one that lays nothing out asks for the usual."""
    asked = house.bypass
    if asked is None:
        return HookupRequest()
    return HookupRequest(
        loop=_loop(asked),
        is_size_open=asked.diameter is None,
        trunk=_trunk(asked),
        free_flow=asked.free_flow,
        shut_off=asked.shut_off,
        wanted_clean_air=asked.wanted_clean_air,
        discharge=asked.discharge,
    )


def _loop(asked: BypassLoop) -> LoopDuct:
    """Return the loop as far as it is laid out; without diameter and both lengths it stays a proposal."""
    usual = usual_loop(asked.diameter.value if asked.diameter is not None else USUAL_DIAMETER)
    return replace(
        usual,
        rigid_length=asked.rigid_length or usual.rigid_length,
        flex_length=asked.flex_length or usual.flex_length,
        flex_compression=asked.flex_compression,
        fittings=tuple(_counted(one, asked) for one in usual.fittings),
        is_proposed=None in (asked.diameter, asked.rigid_length, asked.flex_length),
    )


def _counted(usual: LoopFitting, asked: BypassLoop) -> LoopFitting:
    """Return a fitting of the usual loop as often as the survey counts it."""
    counts = {BEND: asked.bends, HAND_DAMPER: asked.hand_dampers, BACKDRAFT_DAMPER: asked.backdraft_dampers}
    count = counts.get(usual.name)
    return usual if count is None else fitting(usual.name, int(count))


def _trunk(asked: BypassLoop) -> Trunk:
    """Return the return trunk at the taps; a usual section where nobody measured it."""
    trunk = USUAL_TRUNK
    if asked.trunk_width is not None:
        side = asked.trunk_height or asked.trunk_width
        trunk = Trunk(width=asked.trunk_width.value, height=side.value, is_round=asked.trunk_height is None)
    return replace(
        trunk,
        straight_before=asked.straight_before,
        tap_distance=asked.tap_distance,
        straight_after=asked.straight_after,
        order=TapOrder.TAKE_OFF_FIRST if asked.is_take_off_first else TapOrder.RETURN_FIRST,
    )
