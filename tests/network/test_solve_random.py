"""The first thousand of the ten thousand random networks; all of them: ``python -m tests.network.ten_thousand``."""

from __future__ import annotations

from tests.network.random_networks import KINDS
from tests.network.ten_thousand import harvest

from airtally.network.problems import PROBLEMS


def test_random_networks_are_solved_in_balance_or_refused_by_name() -> None:
    found = harvest(1000)
    assert found.worst <= 1.001e-9
    assert found.steps < 60
    assert found.ends.total() == 1000
    refused = {end for _, end in found.ends if end != "solved"}
    assert refused <= set(PROBLEMS) - {"network-not-converged"}
    solved = {kind: found.ends[kind, "solved"] for kind in KINDS}
    assert all(solved[kind] >= 166 for kind in KINDS if kind != "mixed")
    assert solved["mixed"] > 120
