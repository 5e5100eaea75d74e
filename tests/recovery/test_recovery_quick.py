"""A short recovery run with generous bars; the long one is ``make recovery``."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pytest
from tests.recovery.measure import DESIGNS, QUANTITIES, Answer, Design, HomeResult, claimed, results, score_of
from tests.recovery.rich import RichResult
from tests.recovery.run import page, rich_part

from airtally.proof.effects import Verdict

HOMES = 6
IN_DUCT, ROOM = DESIGNS[0], DESIGNS[1]
NOTHING_DONE = DESIGNS[5]


@cache
def found(design: Design) -> list[HomeResult]:
    return list(results(design, HOMES, time.perf_counter))


@pytest.mark.slow
@pytest.mark.parametrize("design", [IN_DUCT, ROOM], ids=lambda d: d.name)
@pytest.mark.parametrize("name", [name for name, _, _ in QUANTITIES])
def test_simulated_homes_are_recovered(design: Design, name: str) -> None:
    answers = [r.answers[name] for r in found(design)]
    truth = np.array([a.truth for a in answers])
    score = score_of(answers, truth)
    assert score.rmse < 0.25
    assert abs(score.bias) < 0.20
    assert score.coverage >= 0.5
    assert 0.005 < score.half_width < 0.6


@pytest.mark.slow
def test_a_dead_cleaner_is_not_credited() -> None:
    answers = [r.answers["cleaner"] for r in found(NOTHING_DONE)]
    assert np.abs([a.middle for a in answers]).max() < 100.0  # surveyed as 340 m3/h
    assert sum(r.rate is Verdict.SHOWN for r in found(NOTHING_DONE)) <= 1
    assert sum(r.like_for_like is Verdict.SHOWN for r in found(NOTHING_DONE)) <= 1


@pytest.mark.slow
def test_a_working_cleaner_is_shown() -> None:
    assert sum(r.rate is Verdict.SHOWN for r in found(IN_DUCT)) >= 5


def test_the_demo_part_of_the_page_counts_verdicts_and_scores() -> None:
    one = Answer(truth=-40.0, middle=-44.0, low=-50.0, high=-38.0, is_open=False)
    done = RichResult(answers={"effect of the works": one}, verdicts={"Did it?": "shown"})
    nothing = RichResult(answers={"effect of the works": one}, verdicts={"Did it?": "not shown"})
    text = rich_part({False: [done, done], True: [nothing]}, datetime(2025, 1, 2, tzinfo=UTC))
    assert "| work done | effect of the works | points | 4.0 | -4.0 | 100 % | 6.0 | 0 % |" in text
    assert "| work done | Did it? | 2 | 0 | 0 |" in text
    assert "| nothing done | Did it? | 0 | 0 | 1 |" in text


def test_scores_by_hand() -> None:
    answers = [
        Answer(truth=10.0, middle=11.0, low=9.0, high=13.0, is_open=False),
        Answer(truth=10.0, middle=7.0, low=6.0, high=8.0, is_open=True),
    ]
    score = score_of(answers, np.full(2, 10.0))
    assert score.rmse == pytest.approx(np.sqrt((0.01 + 0.09) / 2))
    assert score.bias == pytest.approx(-0.1)
    assert (score.coverage, score.left_open) == (0.5, 0.5)
    assert score.half_width == pytest.approx(0.15)
    assert claimed([Verdict.SHOWN, Verdict.WORSE, Verdict.NOT_SHOWN, Verdict.SHOWN]) == (2, 1, 1)


@pytest.mark.slow
def test_the_page_has_a_row_for_every_design_and_quantity() -> None:
    text = page({IN_DUCT: found(IN_DUCT), NOTHING_DONE: found(NOTHING_DONE)}, datetime(2025, 1, 2, tzinfo=UTC))
    for design in (IN_DUCT, NOTHING_DONE):
        for name, _, _ in QUANTITIES:
            assert f"| {design.name} | {name} |" in text
    assert f"{HOMES} homes of each design" in text
    assert "2025-01-02" in text
