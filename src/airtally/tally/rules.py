"""Fan rules, the sensor they read, the course of things they do not choose, and what became of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Booleans, Floats, Integers
from airtally.errors import InputError
from airtally.tally.account import Account
from airtally.tally.sensing import View


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleValues:
    """N fan rules as columns. A rule may only ask for circulation and withdraw its own request.

    Levels are readings of the rule's own sensor. A level request starts above ``on_above``, ends below
    ``off_below`` once ``minimum_run`` has passed, and expires at ``maximum_run``; then the held reading
    is dropped and a new request needs a new sample. While the held reading is above ``cap`` (it may be
    a fire) the rule asks for nothing at all. Equipment demand is never held off.
    """

    on_above: Floats
    """(N,) [kg/m3]"""
    off_below: Floats
    """(N,) [kg/m3]"""
    minimum_run: Floats
    """(N,) [s]"""
    maximum_run: Floats
    """(N,) infinite for none. [s]"""
    sampling_seconds: Floats
    """(N,) fan time asked at each offset; zero for no sampling. [s]"""
    sampling_offsets: Floats
    """(N, M) second of the hour at which each sampling run starts; NaN unused. [s]"""
    early_first: Floats
    """(N,) local second of day at which the early-run window opens. [s]"""
    early_last: Floats
    """(N,) local second of day at which it closes; may lie past midnight. [s]"""
    early_colder_than: Floats
    """(N,) the window asks only below this outdoor temperature; minus infinity for never. [K]"""
    cap: Floats
    """(N,) never asks while the held reading is above. [kg/m3]"""

    def __post_init__(self) -> None:
        for name in ("off_below", "minimum_run", "maximum_run", "sampling_seconds", "early_first", "early_last"):
            if np.shape(getattr(self, name)) != np.shape(self.on_above):
                raise InputError(f"{name} must have one value a rule, as on_above has")
        if self.sampling_offsets.ndim != 2 or self.sampling_offsets.shape[0] != len(self.on_above):
            raise InputError("sampling_offsets must have axes (rules, offsets)")
        if np.any(self.off_below > self.on_above):
            raise InputError("off_below must not exceed on_above: the fan would never rest")
        if np.any(np.nan_to_num(self.sampling_offsets) < 0.0) or np.any(np.nan_to_num(self.sampling_offsets) >= 3600.0):
            raise InputError("sampling_offsets are seconds of the hour, 0 to below 3600")

    def columns(self) -> Floats:
        """Return the rules as rows in the column order of the compiled chain, (N, 9)."""
        return np.column_stack(
            [
                self.on_above,
                self.off_below,
                self.minimum_run,
                self.maximum_run,
                self.sampling_seconds,
                self.early_first,
                self.early_last,
                self.early_colder_than,
                self.cap,
            ]
        ).astype(float)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """The sensor a rule reads: where it sits, what it makes of the species, and how it lags.

    A duct sensor counts only after the fan has run for ``purge``; in between the last valid reading is
    held, for at most ``hold``.
    """

    view: View
    species_weight: Floats
    """(C,) or (D, C) share of each species in the reading (PM2.5 of the classes). [-]"""
    gain: Floats
    """(D,) or (1,) reading over truth. [-]"""
    response_time: float = 0.0
    """First-order lag. [s]"""
    purge: float = 0.0
    """Fan time before a reading counts. [s]"""
    hold: float = 2.0 * 3600.0
    """How long a reading is believed. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What the rule does not choose, step by step (T,): conditions, equipment, clock, people, events."""

    conditions: Integers
    """(T,) w O + o: weather level and other opening."""
    demand: Integers
    """(T,) fan state that the equipment demands: 0 off, 1 circulate, 2 heating."""
    local_seconds: Floats
    """(T,) local second of day at the start of the step. [s]"""
    outdoor_temperature: Floats
    """(T,) [K]"""
    presence: Floats
    """(T, Z) weights of the exposure mean, such as occupied rooms by volume; few different rows."""
    lockout: Booleans
    """(T,) the rule may not ask."""
    is_event: Booleans
    """(T,) a source is at work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleRun:
    """Outcome of every rule on every draw."""

    exposure: Floats
    """(N, D, C) mean weighted by presence, exact. [kg/m3]"""
    mean: Floats
    """(N, D, C, Z) time mean. [kg/m3]"""
    fan_seconds: Floats
    """(N, D, F) time in each fan state. [s]"""
    rule_seconds: Floats
    """(N, D) time the fan runs only because the rule asked. [s]"""
    fan_starts: Floats
    """(N, D) times the fan went from off to running."""
    requests: Floats
    """(N, D) times the rule began to ask."""
    event_hours: Floats
    """(N, D) clock hours with an event."""
    covered_share: Floats
    """(N, D) share of those hours with at least one valid sample; NaN without events. [-]"""
    account: Account
    end: Floats
    """(N, D, C, Z) [kg/m3]"""
    states: Integers | None
    """(N, D, T) state index of each step, if traced."""
    asks: Booleans | None
    """(N, D, T) whether the rule asked, if traced."""
    readings: Floats | None
    """(N, D, T) reading held when the rule decided, NaN for none, if traced. [kg/m3]"""
