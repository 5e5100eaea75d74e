"""Worlds and runs that several tests look at, made once."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from airtally.demo import ALL_QUIRKS, Quirk, write_demo
from airtally.demo.quirks import effective
from airtally.demo.simulate import Run, World, make_world, run
from airtally.demo.streams import Channels, make_streams


@lru_cache(maxsize=5)
def simulated(seed: int, quirks: frozenset[Quirk], weeks: int = 10) -> tuple[World, Run, dict[str, Channels]]:
    """Return a world, its run, and what its monitors show."""
    world = make_world(seed, effective(quirks), weeks)
    actual = run(world)
    shown = make_streams(world, actual)
    return world, replace(actual, rooms=np.zeros(0), flows=np.zeros(0)), shown  # the big ones are not looked at


@pytest.fixture(scope="session")
def reference() -> tuple[World, Run]:
    """Return the reference world and its run with sources apart."""
    world = make_world(1, ALL_QUIRKS, 10)
    return world, run(world)


@pytest.fixture(scope="session")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of the reference job."""
    folder = tmp_path_factory.mktemp("demo") / "job"
    write_demo(folder)
    return folder
