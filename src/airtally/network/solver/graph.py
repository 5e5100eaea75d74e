"""The nouns of a pressure-flow network: nodes, laws, links, and what a solve gives back.

A node is a well-mixed volume with one temperature: a room, a basement, a plenum, a flue. Its pressure is told
against outdoors at height 0. A link joins two nodes by a law. The pressure across a link at height z is

    (p_start - rho_start g z) - (p_end - rho_end g z) + lift

and a flow from start to end is positive. Nothing is checked here: the solver refuses by name what it cannot take,
so that a survey with a wrong number gives a sentence and not a traceback.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from airtally.errors import Problem
from airtally.physics.constants import STANDARD_PRESSURE

OUTDOORS = "outdoors"
"""The node that every network has: pressure zero at height 0; its temperature stands in Network."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A well-mixed zone, plenum or flue. ``temperature`` [K] is the mean over its height."""

    name: str
    temperature: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """A crack or an opening: q = C sign(dp) |dp|^n.

    Attributes
    ----------
    coefficient : float
        Flow at 1 Pa, C, at the density of the air that flows. [m3/(s Pa^n)]
    exponent : float
        n; 0.5 is an orifice, 1 a long crack. [-]
    """

    coefficient: float
    exponent: float = 0.65


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistance:
    """A filter, a duct, a fitting: dp = a q + b q |q|.

    Attributes
    ----------
    linear : float
        a; zero or more, and not both zero. [Pa s/m3]
    square : float
        b; zero or more. [Pa s2/m6]
    """

    linear: float
    square: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OneWay:
    """A check damper: opens from start to end, leaks the other way.

    Attributes
    ----------
    coefficient, exponent : float
        The power law of the open damper. [m3/(s Pa^n)] and [-]
    closed_coefficient : float
        Flow at 1 Pa through the shut damper, above zero: nothing shuts without a leak. [m3/(s Pa^n)]
    """

    coefficient: float
    exponent: float
    closed_coefficient: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """A running fan: the pressure it adds from start to end at each flow, straight between the points.

    Beyond either end the curve goes on straight, with the slope of the end's own piece or of the whole curve,
    whichever is the steeper: a flat top does not let air pour back through the wheel. The size of flow beyond
    the ends is a guess; a caller that needs it should look whether the flow lies on the curve.

    Attributes
    ----------
    flows : tuple of float
        Rising. [m3/s]
    pressures : tuple of float
        Pressure rise at each flow, falling. [Pa]
    """

    flows: tuple[float, ...]
    pressures: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedFlow:
    """A flow that no pressure changes. ``flow`` [m3/s] leaves start at start's density; a negative one leaves end."""

    flow: float


Law = Leak | Resistance | OneWay | Fan | FixedFlow
"""How much air passes at which pressure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One path of air between two nodes, or between a node and outdoors.

    Attributes
    ----------
    name, start, end : str
        The link's own name and the names of two nodes; either may be ``OUTDOORS``.
    law : Law
        Flow against pressure.
    height : float
        Where the path lies above height 0. [m]
    lift : float
        Pressure that pushes from start to end besides the nodes' own: wind, a warm column. [Pa]
    """

    name: str
    start: str
    end: str
    law: Law
    height: float = 0.0
    lift: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Nodes and links in one state of house and weather.

    Attributes
    ----------
    nodes : tuple of Node
        Without outdoors.
    links : tuple of Link
        In any order.
    outdoor_temperature : float
        Of the air outdoors. [K]
    site_pressure : float
        Absolute pressure of the place; it sets the densities. [Pa]
    """

    nodes: tuple[Node, ...]
    links: tuple[Link, ...]
    outdoor_temperature: float
    site_pressure: float = STANDARD_PRESSURE


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Pressures and flows of a network that was solved.

    Attributes
    ----------
    pressures : Mapping
        Node name to pressure against outdoors at height 0; outdoors is in it, at zero. [Pa]
    flows : Mapping
        Link name to volume flow, start to end positive, at the density of the air that flows. [m3/s]
    mass_flows : Mapping
        The same in mass. [kg/s]
    imbalance : float
        Largest sum of mass flows at a node, as a share of the network's largest mass flow. [-]
    iterations : int
        Newton steps taken.
    """

    pressures: Mapping[str, float]
    flows: Mapping[str, float]
    mass_flows: Mapping[str, float]
    imbalance: float
    iterations: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why a network has no answer, as a problem that can travel with the user's other problems.

    Attributes
    ----------
    problem : Problem
        What was found at which node or link, what the solver takes, what to do.
    """

    problem: Problem

    @property
    def code(self) -> str:
        """Return the problem's code, one of ``network.problems``."""
        return self.problem.code

    @property
    def where(self) -> str:
        """Return the node, link or network it is about."""
        return self.problem.where

    @property
    def why(self) -> str:
        """Return what was found there, in plain words."""
        return self.problem.found
