"""From laws and inputs to the arrays the compiled chain eats: step matrices in lanes, inputs in lanes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Floats, Integers
from airtally.errors import InputError
from airtally.tally.coefficients import Coefficients
from airtally.tally.kernels import LANES, lane_instructions, propagators

_Real = TypeVar("_Real", np.float32, np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """Drivers and emissions of every step, packed once and used for any number of runs.

    Inputs that hold for several steps are kept once.
    """

    rows: Floats
    """(D or 1, U, R + emitting zones, 4) different inputs: drivers [kg/m3], then emissions [kg/s]."""
    row: NDArray[np.int32]
    """(T,) which row holds in each step."""
    driver_count: int
    """Number of drivers R."""
    emitting: Integers
    """Indices of the zones that emit at any time."""
    species_count: int
    """Number of species C."""

    @property
    def step_count(self) -> int:
        """Number of steps T."""
        return len(self.row)


def inputs_of(drivers: Floats, emissions: Floats | None = None) -> Inputs:
    """Pack drivers (T, C, R) [kg/m3] and emissions (T, C, Z) [kg/s]; either may lead with draws (D, ...).

    Raises InputError for more than four species or disagreeing shapes.
    """
    columns = [_with_draws(drivers, "drivers")]
    _, steps, species, driver_count = columns[0].shape
    if species > LANES:
        raise InputError(f"a run carries at most {LANES} species; {species} were given")
    if emissions is not None:
        columns.append(_with_draws(emissions, "emissions"))
        if columns[1].shape[1:3] != (steps, species):
            raise InputError(f"emissions have shape {columns[1].shape[1:3]} (T, C); drivers have {(steps, species)}")
    is_new = np.ones(steps, dtype=np.bool_)
    is_new[1:] = False
    for column in columns:
        is_new[1:] |= (column[:, 1:] != column[:, :-1]).any(axis=(0, 2, 3))
    columns = [column[:, is_new] for column in columns]
    emitting = np.zeros(0, dtype=np.int64)
    if emissions is not None:
        emitting = np.flatnonzero((columns[1] != 0.0).any(axis=(0, 1, 2)))
        columns[1] = columns[1][..., emitting]
    draws = max(column.shape[0] for column in columns)
    rows = np.zeros((draws, columns[0].shape[1], driver_count + len(emitting), LANES))
    at = 0
    for column in columns:
        rows[:, :, at : at + column.shape[-1], :species] = np.swapaxes(column, -1, -2)
        at += column.shape[-1]
    return Inputs(
        rows=rows,
        row=(np.cumsum(is_new) - 1).astype(np.int32),
        driver_count=driver_count,
        emitting=emitting,
        species_count=species,
    )


def _with_draws(array: Floats, name: str) -> Floats:
    given = np.asarray(array, dtype=float)
    if given.ndim == 3:
        return given[None]
    if given.ndim == 4:
        return given
    raise InputError(f"{name} must have axes (T, C, .) or (D, T, C, .); it has {given.ndim} axes")


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Exact matrices of one step for the states in use.

    ``step``, ``integral`` (D, S, Z, Z + inputs, 4): the state after the step, and the integral over it.
    """

    step: Floats
    integral: Floats
    length: float
    species_count: int


def steps_of(law: Coefficients, inputs: Inputs, dt: float) -> Steps:
    """Return the exact step of ``dt`` [s] for every draw, state and species of the law.

    Inputs are held over the step; then exp(A h) and its integrals leave no error of time stepping.
    Raises InputError where law and inputs disagree.
    """
    draws, states, species, zones, _ = law.rate.shape
    if not dt > 0.0:
        raise InputError(f"the step must be above zero; {dt} s was given")
    if species != inputs.species_count:
        raise InputError(f"the law has {species} species; drivers have {inputs.species_count}")
    if inputs.rows.shape[0] not in (1, draws):
        raise InputError(f"inputs are given for {inputs.rows.shape[0]} draws; the law has {draws}")
    if len(law.path_driver) and int(law.path_driver.max()) >= inputs.driver_count:
        raise InputError(f"a path draws from driver {law.path_driver.max()}; {inputs.driver_count} drivers were given")
    if len(inputs.emitting) and int(inputs.emitting.max()) >= zones:
        raise InputError(f"emissions name zone {inputs.emitting.max()}; the house has {zones} zones")
    phi, psi, omega = exponentials(law.rate, dt)
    entry = np.zeros((draws, states, species, zones, inputs.driver_count + len(inputs.emitting)))
    for path, driver in enumerate(law.path_driver):
        entry[..., driver] += law.gains[:, :, :, path, :]
    for column, zone in enumerate(inputs.emitting):
        entry[..., zone, inputs.driver_count + column] = 1.0 / law.volume[:, None, None, zone]
    return Steps(
        step=_in_lanes(np.concatenate([phi, psi @ entry], axis=-1)),
        integral=_in_lanes(np.concatenate([psi, omega @ entry], axis=-1)),
        length=float(dt),
        species_count=species,
    )


def exponentials(rate: Floats, dt: float) -> tuple[Floats, Floats, Floats]:
    """Return exp(A h), its integral and the integral of that over a step, for rates (..., Z, Z)."""
    zones = rate.shape[-1]
    stack = np.ascontiguousarray(rate.reshape(-1, zones, zones))
    solved = tuple(np.empty_like(stack) for _ in range(3))
    with lane_instructions():
        propagators(stack, float(dt), *solved)
    phi, psi, omega = (matrix.reshape(rate.shape) for matrix in solved)
    return phi, psi, omega


def lanes_of(values: Floats) -> Floats:
    """Return (..., C, X) as (..., X, 4): species last, padded with zeros."""
    moved = np.swapaxes(values, -1, -2)
    padded = np.zeros((*moved.shape[:-1], LANES))
    padded[..., : moved.shape[-1]] = moved
    return padded


def from_lanes(values: NDArray[_Real], species: int) -> NDArray[_Real]:
    """Return (..., X, 4) as (..., C, X)."""
    return np.ascontiguousarray(np.swapaxes(values[..., :species], -1, -2))


def start_in_lanes(start: Floats | None, law: Coefficients) -> Floats:
    """Return the start (D, Z, 4) from (D, C, Z), (C, Z) or None for clean rooms, in [kg/m3]."""
    draws, _, species, zones, _ = law.rate.shape
    given = np.zeros((species, zones)) if start is None else np.asarray(start, dtype=float)
    if given.shape[-2:] != (species, zones):
        raise InputError(f"start has shape {given.shape}; wanted (C, Z) = {(species, zones)}, draws leading or not")
    return lanes_of(np.broadcast_to(given, (draws, species, zones)))


def _in_lanes(matrix: Floats) -> Floats:
    """Return (D, S, C, Z, N) as (D, S, Z, N, 4)."""
    padded = np.zeros((*matrix.shape[:2], *matrix.shape[3:], LANES))
    padded[..., : matrix.shape[2]] = np.moveaxis(matrix, 2, -1)
    return padded
