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

    ``values`` (D or 1, T, R + emitting zones, 4): drivers [kg/m3], then emissions of ``emitting`` zones [kg/s].
    """

    values: Floats
    driver_count: int
    emitting: Integers
    species_count: int

    @property
    def step_count(self) -> int:
        """Number of steps T."""
        return int(self.values.shape[1])


def inputs_of(drivers: Floats, emissions: Floats | None = None) -> Inputs:
    """Pack drivers (T, C, R) [kg/m3] and emissions (T, C, Z) [kg/s]; either may lead with draws (D, ...).

    Raises InputError for more than four species or disagreeing shapes.
    """
    driving = _with_draws(drivers, "drivers")
    draws, steps, species, driver_count = driving.shape
    if species > LANES:
        raise InputError(f"a run carries at most {LANES} species; {species} were given")
    emitting = np.zeros(0, dtype=np.int64)
    columns = [driving]
    if emissions is not None:
        emitted = _with_draws(emissions, "emissions")
        if emitted.shape[1:3] != (steps, species):
            raise InputError(f"emissions have shape {emitted.shape[1:3]} (T, C); drivers have {(steps, species)}")
        emitting = np.flatnonzero((emitted != 0.0).any(axis=(0, 1, 2)))
        columns.append(emitted[..., emitting])
        draws = max(draws, emitted.shape[0])
    values = np.zeros((draws, steps, driver_count + len(emitting), LANES))
    at = 0
    for column in columns:
        values[:, :, at : at + column.shape[-1], :species] = np.swapaxes(column, -1, -2)
        at += column.shape[-1]
    return Inputs(values=values, driver_count=driver_count, emitting=emitting, species_count=species)


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
    if inputs.values.shape[0] not in (1, draws):
        raise InputError(f"inputs are given for {inputs.values.shape[0]} draws; the law has {draws}")
    if len(law.path_driver) and int(law.path_driver.max()) >= inputs.driver_count:
        raise InputError(f"a path draws from driver {law.path_driver.max()}; {inputs.driver_count} drivers were given")
    if len(inputs.emitting) and int(inputs.emitting.max()) >= zones:
        raise InputError(f"emissions name zone {inputs.emitting.max()}; the house has {zones} zones")
    with lane_instructions():
        solved = propagators(np.ascontiguousarray(law.rate.reshape(-1, zones, zones)), float(dt))
    phi, psi, omega = (matrix.reshape(law.rate.shape) for matrix in solved)
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
