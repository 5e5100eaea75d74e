"""Many draws of a house's network solved in many states, by name."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from airtally.arrays import Floats
from airtally.errors import AirtallyError
from airtally.house.parts import ZoneKind
from airtally.network.home.house_network import AirState, HouseNetwork, Terms
from airtally.network.home.works import Works
from airtally.network.solver.graph import OUTDOORS, Network, Refusal
from airtally.network.solver.kernel_layout import Compiled
from airtally.network.solver.solve import COLUMNS, compile_network, solve_cases
from airtally.parameters import Values


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """One state for N draws. Pressures against outdoors at height 0 [Pa], flows start to end [m3/s]."""

    state: AirState
    nodes: tuple[str, ...]
    links: tuple[str, ...]
    pressures: Floats
    """Shape (N, nodes)."""
    flows: Floats
    """Shape (N, links)."""

    def pressure(self, node: str) -> Floats:
        """Return a node's pressure; outdoors is zero. Shape (N,) [Pa]"""
        if node == OUTDOORS:
            return np.zeros(self.pressures.shape[0])
        return np.asarray(self.pressures[:, self.nodes.index(node)])

    def flow(self, link: str) -> Floats:
        """Return a link's flow. Shape (N,) [m3/s]"""
        return np.asarray(self.flows[:, self.links.index(link)])


def solve_states(
    network: HouseNetwork, values: Values, states: tuple[AirState, ...], works: Works
) -> tuple[Solved, ...]:
    """Return the network solved for each set of unknowns in each state.

    Raises
    ------
    AirtallyError
        If the solver refuses a case: the links of a surveyed house always reach outdoors, so this is a fault.
    """
    if not states:
        return ()
    compiled = _compiled(network.frame)
    if isinstance(compiled, Refusal):
        raise AirtallyError(compiled.problem.sentence())
    count, size = values.count, (len(states), values.count, len(compiled.links))
    table, lift = np.zeros((*size, COLUMNS)), np.zeros(size)
    place = {name: index for index, name in enumerate(compiled.links)}

    def fill(rows: list[int] | slice, terms: dict[str, Terms]) -> None:
        for name, term in terms.items():
            table[rows, :, place[name], 0] = term.first
            table[rows, :, place[name], 1] = term.second
            lift[rows, :, place[name]] = term.lift

    for wind in {state.wind_speed for state in states}:
        rows = [number for number, state in enumerate(states) if state.wind_speed == wind]
        fill(rows, network.standing_terms(values, wind, works))
    fill(slice(None), network.moving_terms(values, states, works))
    buffers = {zone.id: zone.kind for zone in network.layout.buffers}
    temperature = np.array(
        [
            [*(_temperature(state, buffers.get(node)) for node in compiled.nodes), state.outdoor_temperature]
            for state in states
        ]
    )
    flat = len(states) * count
    cases = solve_cases(
        compiled,
        table.reshape(flat, -1, COLUMNS),
        lift.reshape(flat, -1),
        np.repeat(temperature, count, axis=0),
    )
    if not cases.is_solved.all():
        raise AirtallyError(
            f"{int((~cases.is_solved).sum())} of {cases.is_solved.size} states of the house have no balance"
        )
    return tuple(
        Solved(
            state=state,
            nodes=compiled.nodes,
            links=compiled.links,
            pressures=cases.pressures[number * count : (number + 1) * count],
            flows=cases.flows[number * count : (number + 1) * count],
        )
        for number, state in enumerate(states)
    )


@lru_cache(maxsize=4)
def _compiled(frame: Network) -> Compiled | Refusal:
    """Return a network checked and laid out: a house is solved a hundred times over with one frame."""
    return compile_network(frame)


def _temperature(state: AirState, buffer: ZoneKind | None) -> float:
    """Return a node's air temperature: an attic is as cold as outdoors, garage and crawlspace half way. [K]"""
    if buffer is None:
        return state.indoor_temperature
    if buffer is ZoneKind.ATTIC:
        return state.outdoor_temperature
    return 0.5 * (state.indoor_temperature + state.outdoor_temperature)
