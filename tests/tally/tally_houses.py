"""Houses for the tests of the tally: one plain room, and random ones with everything in them."""

from __future__ import annotations

from typing import Any

import numpy as np

from airtally.house.parts import VentilationKind
from airtally.tally.house_air import HouseAir

HOUR = 3600.0


def plain_house(**changed: Any) -> HouseAir:
    """Return one zone of 300 m3, one particle class and CO2, no equipment; ``changed`` replaces fields."""
    fields: dict[str, Any] = {
        "volume": np.array([[300.0]]),
        "infiltration": np.array([[[0.5 * 300.0 / HOUR]]]),
        "penetration": np.array([[0.8, 1.0]]),
        "settling": np.full((1, 3, 2), 0.2 / HOUR) * [1.0, 0.0],
        "handler_flow": np.zeros((1, 3)),
        "return_share": np.ones((1, 1)),
        "supply_share": np.ones((1, 1)),
        "return_leak": np.zeros((1, 0)),
        "supply_leak": np.zeros(1),
        "leak_driver": np.zeros(0, dtype=np.int64),
        "leak_before_filter": np.zeros(0, dtype=np.bool_),
        "filter_efficiency": np.zeros((1, 2)),
        "cleaner_flow": np.zeros((1, 0)),
        "cleaner_efficiency": np.zeros((1, 0, 2)),
        "cleaner_recirculated": np.zeros((1, 0)),
        "cleaner_runs": np.zeros((0, 3)),
        "cleaner_zone": np.zeros(0, dtype=np.int64),
        "cleaner_is_portable": np.zeros(0, dtype=np.bool_),
        "ventilation_flow": np.zeros((1, 0)),
        "ventilation_efficiency": np.zeros((1, 0, 2)),
        "ventilation_runs": np.zeros((0, 3)),
        "ventilation_zone": np.zeros(0, dtype=np.int64),
        "ventilation_kind": (),
        "door_flow": np.zeros((1, 3, 1, 1)),
        "other_outdoor_flow": np.zeros((1, 1, 1)),
    }
    return HouseAir(**(fields | changed))


def shares(rng: np.random.Generator, draws: int, zones: int) -> np.ndarray:
    """Return random shares with some zones left out, summing to one."""
    parts = rng.uniform(0.1, 1.0, (draws, zones)) * (rng.uniform(size=zones) < 0.7)
    parts[:, rng.integers(zones)] += 0.3
    return parts / parts.sum(axis=1, keepdims=True)


def full_house(seed: int, *, draws: int = 2, zones: int = 3, classes: int = 3, levels: int = 2) -> HouseAir:
    """Return a random house with two leaks, three cleaners, four ventilation fans, doors and a window."""
    rng = np.random.default_rng(seed)
    species = classes + 1
    doors = rng.uniform(0.0, 0.1, (draws, 3, zones, zones)) * (1.0 - np.eye(zones))
    doors = doors + np.swapaxes(doors, -1, -2)
    return HouseAir(
        volume=rng.uniform(20.0, 150.0, (draws, zones)),
        infiltration=rng.uniform(0.001, 0.02, (draws, levels, zones)),
        penetration=rng.uniform(0.5, 1.0, (draws, species)),
        settling=rng.uniform(0.1, 2.0, (draws, 3, species)) / HOUR,
        handler_flow=rng.uniform(0.2, 0.7, (draws, 3)) * [0.0, 1.0, 1.2],
        return_share=shares(rng, draws, zones),
        supply_share=shares(rng, draws, zones),
        return_leak=rng.uniform(0.0, 0.15, (draws, 2)),
        supply_leak=rng.uniform(0.0, 0.3, draws),
        leak_driver=np.array([1, 2]),
        leak_before_filter=np.array([True, False]),
        filter_efficiency=rng.uniform(0.1, 0.9, (draws, species)),
        cleaner_flow=rng.uniform(0.02, 0.15, (draws, 3)),
        cleaner_efficiency=rng.uniform(0.5, 1.0, (draws, 3, species)),
        cleaner_recirculated=rng.uniform(0.0, 0.4, (draws, 3)),
        cleaner_runs=np.array([[1.0, 1.0, 1.0], [0.0, 0.6, 0.6], [0.0, 1.0, 1.0]]),
        cleaner_zone=np.array([-1, int(rng.integers(zones)), int(rng.integers(zones))]),
        cleaner_is_portable=np.array([False, True, False]),
        ventilation_flow=rng.uniform(0.005, 0.03, (draws, 4)),
        ventilation_efficiency=rng.uniform(0.0, 0.9, (draws, 4, species)),
        ventilation_runs=np.array([[1.0, 1.0, 1.0], [0.0, 0.5, 0.5], [0.3, 0.3, 0.3], [0.4, 1.0, 1.0]]),
        ventilation_zone=np.array([int(rng.integers(zones)), -1, int(rng.integers(zones)), -1]),
        ventilation_kind=(
            VentilationKind.BALANCED,
            VentilationKind.SUPPLY,
            VentilationKind.EXHAUST,
            VentilationKind.EXHAUST,
        ),
        door_flow=doors,
        other_outdoor_flow=np.stack([np.zeros((draws, zones)), rng.uniform(0.0, 0.1, (draws, zones))], axis=1),
    )
