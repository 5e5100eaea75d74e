"""The pressure at a hearth from the flows of a state, by the house's own solved network."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from airtally.estimates import Estimate
from airtally.network.flues.flue_changes import SUPPLY_NAME
from airtally.network.flues.flue_state import PressureOf, tabled_law
from airtally.network.home.calibrate import Calibrated
from airtally.network.home.house_network import AirState
from airtally.network.home.house_pressure import HousePressure, NamedFlow
from airtally.network.home.pressures import METHOD, estimate_of
from airtally.visits.parts import HandlerMode

POINTS = 5
"""Flows of the fire for which the network is solved; between them its law is nearly straight. [-]"""


def hearth_case(
    calibrated: Calibrated,
    zone: str,
    name: str,
    state: AirState,
    running: tuple[NamedFlow, ...],
    *,
    fire: str,
    most: float,
) -> tuple[HousePressure, PressureOf]:
    """Return a state of the house at a hearth, its fire still out, and the law of its pressure there.

    The law solves the network for the exhausts that its flows name, each in its own room with the state's doors and
    blower; supply air comes into the main body, and every other flow, the fire's own draw, is taken out at the hearth.

    Parameters
    ----------
    calibrated : Calibrated
    zone : str
        Where the hearth is.
    name : str
        The state in words.
    state : AirState
        Doors, blower and exhausts; the hearth's own fire is left out of it.
    running : tuple of NamedFlow
        The house's exhausts with their flows. [m3/s]
    fire : str
        The hearth's own id among the exhausts.
    most : float
        Largest draw of its fire. [m3/s]
    """
    fans = state.exhausts - {fire}
    quiet = replace(state, handler=HandlerMode.OFF, exhausts=frozenset())
    draws = np.linspace(most, 0.0, POINTS)
    main = calibrated.network.layout.main
    tables: dict[tuple[frozenset[str], float], PressureOf] = {}

    def table(on: frozenset[str], supply: float) -> PressureOf:
        if (on, supply) not in tables:
            one = replace(state, exhausts=on)
            states = tuple(replace(one, drawn=((zone, float(draw)), (main, -supply))) for draw in draws)
            still, *solved = calibrated.solve((quiet, *states))
            asked = tuple(estimate_of(found.pressure(zone) - still.pressure(zone), "Pa") for found in solved)
            tables[on, supply] = tabled_law(-draws, asked)
        return tables[on, supply]

    def law(flows: tuple[NamedFlow, ...]) -> Estimate:
        on = frozenset(one.name for one in flows) & fans
        supply = sum(one.flow.value for one in flows if one.name == SUPPLY_NAME)
        return table(on, supply)(tuple(one for one in flows if one.name not in on and one.name != SUPPLY_NAME))

    flows = tuple(one for one in running if one.name in fans)
    case = HousePressure(
        state=name, pressure=law(flows), flows=flows, has_fire_lit=any(one.is_fire for one in flows), method=METHOD
    )
    return case, law
