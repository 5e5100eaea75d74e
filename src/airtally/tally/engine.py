"""The open loop: a house whose states are given, advanced exactly, with an account that closes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Floats, Integers
from airtally.errors import InputError
from airtally.tally.account import Account, account_of
from airtally.tally.coefficients import Coefficients
from airtally.tally.kernels import LANES, lane_instructions, open_loop
from airtally.tally.stepping import Inputs, Steps, from_lanes, inputs_of, start_in_lanes, steps_of


class Store(StrEnum):
    """Which series a run keeps beside its means and account."""

    NOTHING = "nothing"
    STEP_ENDS = "step ends"
    """Values at the end of every step, in single precision."""
    BLOCK_MEANS = "block means"
    """Exact means over blocks of ``block_steps`` steps; the last block may be short."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What became of the air: means, end, account and, if asked for, a series."""

    mean: Floats
    """(D, C, Z) time mean, exact. [kg/m3]"""
    end: Floats
    """(D, C, Z) after the last step. [kg/m3]"""
    account: Account
    series: NDArray[np.float32] | Floats | None
    """(D, T or B, C, Z) as ``store`` asked. [kg/m3]"""
    duration: float
    """Length of the run. [s]"""


def run(
    law: Coefficients,
    states: Integers,
    drivers: Floats | Inputs,
    emissions: Floats | None,
    start: Floats | None,
    dt: float,
    *,
    store: Store = Store.NOTHING,
    block_steps: int | None = None,
) -> Run:
    """Advance every draw through the given states.

    Parameters
    ----------
    law : Coefficients
        Linear law of the air.
    states : array (T,)
        State index of each step.
    drivers : array (T, C, R) or (D, T, C, R), or packed Inputs
        Concentration outdoors and in buffer spaces, held over each step. [kg/m3]
    emissions : array (T, C, Z) or (D, T, C, Z), or None
        Releases, held over each step. [kg/s]
    start : array (C, Z) or (D, C, Z), or None
        Concentration before the first step; None means clean rooms. [kg/m3]
    dt : float
        Length of a step. [s]
    store : Store
        Which series to keep.
    block_steps : int, optional
        Steps in a block mean; an hour where not given.

    Raises
    ------
    InputError
        Where shapes disagree or a state index does not exist.

    Notes
    -----
    Exact for inputs constant over the step: v <- exp(A h) v with its integral (the rate matrix of the well-mixed
    balance dC/dt = A C + b). NaN in a draw stays in that draw.
    Checked against: solve_ivp DOP853 at rtol 1e-12 and a plain NumPy loop (tests).
    """
    inputs = drivers if isinstance(drivers, Inputs) else inputs_of(drivers, emissions)
    given = np.asarray(states)
    if given.shape != (inputs.step_count,):
        raise InputError(f"states have shape {given.shape}; inputs have {inputs.step_count} steps")
    used, index = visited(law, given)
    steps = steps_of(used, inputs, dt)
    zones, draws = law.volume.shape[1], law.volume.shape[0]
    block = block_steps or max(1, round(3600.0 / dt))
    blocks = -(-inputs.step_count // block)
    ends = np.empty((draws, inputs.step_count if store is Store.STEP_ENDS else 0, zones, LANES), dtype=np.float32)
    means = np.zeros((draws, blocks if store is Store.BLOCK_MEANS else 0, zones, LANES))
    begin = start_in_lanes(start, law)
    finish = np.empty_like(begin)
    total = np.zeros((draws, steps.step.shape[1], steps.step.shape[3], LANES))
    with lane_instructions():
        open_loop(steps.step, steps.integral, index, inputs.rows, inputs.row, begin, finish, total, ends, means, block)
    integrals, account = close_account(used, steps, inputs, begin, finish, total)
    duration = inputs.step_count * dt
    series: NDArray[np.float32] | Floats | None = None
    if store is Store.STEP_ENDS:
        series = from_lanes(ends, steps.species_count)
    elif store is Store.BLOCK_MEANS:
        lengths = np.full(blocks, block * dt)
        lengths[-1] = (inputs.step_count - (blocks - 1) * block) * dt
        series = from_lanes(means / lengths[:, None, None], steps.species_count)
    return Run(
        mean=integrals.sum(axis=1) / duration,
        end=from_lanes(finish, steps.species_count),
        account=account,
        series=series,
        duration=duration,
    )


def visited(law: Coefficients, states: Integers) -> tuple[Coefficients, NDArray[np.int32]]:
    """Return the law of the states that occur, and the states renumbered to it."""
    most = law.rate.shape[1]
    if states.size and (states.min() < 0 or states.max() >= most):
        raise InputError(f"states must lie in 0 to {most - 1}; they run from {states.min()} to {states.max()}")
    occurs = np.bincount(states, minlength=most) > 0
    renumbered = (np.cumsum(occurs) - 1).astype(np.int32)
    used = replace(law, rate=law.rate[:, occurs], sinks=law.sinks[:, occurs], gains=law.gains[:, occurs])
    return used, renumbered[states]


def close_account(
    law: Coefficients, steps: Steps, inputs: Inputs, begin: Floats, finish: Floats, total: Floats
) -> tuple[Floats, Account]:
    """Return integrals by state (..., D, S, C, Z) and the account, from the sums of v by state (..., D, S, N, 4).

    The integral of a linear system is linear in what each step starts from, so the sums are enough.
    """
    species, zones = steps.species_count, law.volume.shape[1]
    drivers = inputs.driver_count
    integrals = from_lanes(np.einsum("dsznl,...dsnl->...dszl", steps.integral, total, optimize=True), species)
    seconds = from_lanes(total[..., zones:, :], species) * steps.length
    emitted = np.zeros((*integrals.shape[:-3], species, zones))
    emitted[..., inputs.emitting] = seconds[..., drivers:].sum(axis=-3)
    stored = from_lanes(finish - begin, species) * law.volume[:, None, :]
    account = account_of(
        law, integrals=integrals, driver_seconds=seconds[..., :drivers], emitted=emitted, stored=stored
    )
    return integrals, account
