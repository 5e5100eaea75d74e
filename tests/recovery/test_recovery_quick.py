"""A short recovery run with generous bars; the long one is ``make recovery``."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from tests.recovery import run
from tests.recovery.measure import DESIGNS, QUANTITIES, Answer, Design, HomeResult, claimed, results, score_of
from tests.recovery.rich import RichResult
from tests.recovery.rich_events import Burst, EventCount, count_events, true_bursts
from tests.recovery.rich_homes import Loggers, loggers_of, variety_of
from tests.recovery.rich_page import ROWS
from tests.recovery.run import page, rich_part

from airtally.demo import Quirk
from airtally.demo.aerosols import SOURCES
from airtally.inference.events import Source
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


def rich(answer: Answer, rate: Verdict, oracle: Answer | None = None) -> RichResult:
    names = {row.answer for row in ROWS}
    events = EventCount(true=10, seen=9, named=8, found=12, real=6)
    return RichResult(
        answers=dict.fromkeys(names, answer),
        oracle={} if oracle is None else dict.fromkeys(names, oracle),
        series_error=0.2,
        events=events,
        rate=rate,
        is_short_circuited=False,
        seconds=1.0,
    )


def test_the_rich_part_of_the_page_scores_counts_and_holds_against_the_bars() -> None:
    good = rich(Answer(truth=1.0, middle=1.05, low=0.9, high=1.2, is_open=False), Verdict.SHOWN)
    told = Answer(truth=1.0, middle=1.0, low=0.95, high=1.1, is_open=False)
    poor = rich(Answer(truth=1.0, middle=1.5, low=1.2, high=1.8, is_open=True), Verdict.NOT_SHOWN, told)
    fair = rich(Answer(truth=1.0, middle=1.1, low=0.9, high=1.2, is_open=False), Verdict.SHOWN)
    done = {Loggers.IN_DUCT: [good, good, fair], Loggers.ROOM_LOGGER: [poor]}
    nothing = {Loggers.IN_DUCT: [poor], Loggers.ROOM_LOGGER: [good]}
    text = rich_part(done, nothing, datetime(2025, 1, 2, tzinfo=UTC))
    assert "| in-duct only | loss, fan on | % | 5.0 | +6.7 | 3 of 3 | 15.0 | 30.0 |  | 0 % | 9 | yes |" in text
    row = "| with room loggers | loss, fan on | % | 50.0 | +50.0 | 0 of 1 | 30.0 | 460.0 | 30.67 | 100 % | 9 "
    assert row + "| **no** |" in text
    assert "| loss, fan on | 3 | 4 | 3 | 25 % | 20 % | 30.67 | 1.5 | **no** coverage, open, oracle |" in text
    assert "| in-duct only | cleaner | m3/h | 0.1 | +0.1 | 3 of 3 | 0.1 | 0.3 |  | 0 % |  |  |" in text
    assert "| in-duct only | hourly room series | % of mean | 20.0 | | | | | | | 30 | yes |" in text
    assert "| with room loggers | hourly room series | % of mean | 20.0 | | | | | | | 14 | **no** |" in text
    assert "| in-duct only | recall | 90 % | 30 | 85 % | yes |" in text
    assert "| in-duct only | precision | 50 % | 36 | 80 % | **no** |" in text
    assert "| in-duct only | kind | 89 % | 27 | 80 % | yes |" in text
    assert "| in-duct only | nothing done | shown or worse | 0 | 1 | 0.1 | yes |" in text
    assert "| with room loggers | nothing done | shown or worse | 1 | 1 | 0.1 | **no** |" in text
    assert "short-circuited" not in text  # no such home here
    assert "2025-01-02" in text


def test_a_broken_run_goes_on_from_what_it_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    good = rich(Answer(truth=1.0, middle=1.0, low=0.9, high=1.2, is_open=False), Verdict.SHOWN)

    def judged(home: int, *, with_oracle: bool) -> RichResult:
        asked.append((home, with_oracle))
        return good

    monkeypatch.setattr(run, "simulate_rich_home", lambda seed, *, has_works: seed if has_works else -seed)
    monkeypatch.setattr(run, "judge_rich", judged)
    first = run.FIRST_RICH_SEED
    run.run_rich(2, 1, tmp_path, has_works=True)
    assert asked == [(first, True), (first + 1, False)]
    found = run.run_rich(3, 1, tmp_path, has_works=True)
    assert asked[2:] == [(first + 2, False)]
    assert {loggers: len(homes) for loggers, homes in found.items()} == {Loggers.IN_DUCT: 2, Loggers.ROOM_LOGGER: 1}
    run.run_rich(1, 0, tmp_path, has_works=False)
    assert asked[3:] == [(-first, False)]


def burst(start: float, end: float, rise: float, kind: Source = Source.COOKING) -> Burst:
    return Burst(start=start * 60.0, end=end * 60.0, rise=rise, kinds=(kind,))


def test_events_are_matched_by_time_and_named_by_the_longest_overlap() -> None:
    true = [burst(0, 30, 50), burst(200, 230, 12), burst(400, 410, 8), burst(600, 700, 40, Source.SOLID_FUEL)]
    found = [
        burst(15, 20, 4),  # meets the first, however small
        burst(245, 260, 30),  # after the second ended, and begins too late
        burst(412, 415, 11),  # a light event read a little too high
        burst(650, 700, 20, Source.SOLID_FUEL),
        burst(590, 602, 20),
        burst(900, 910, 9),
    ]
    counted = count_events(true, found, 0.0, 1e6)
    assert counted == EventCount(true=3, seen=2, named=2, found=4, real=3)
    assert count_events(true, found, 3600.0, 1e6).true == 2


def test_an_event_rises_by_its_own_source_alone() -> None:
    time = 60.0 * np.arange(240)
    level = np.zeros((240, len(SOURCES)))
    level[:, SOURCES.index("outdoor")] = np.arange(240)
    level[60:90, SOURCES.index("cooking")] = 25.0
    level[:, SOURCES.index("cooking")] += 1.0
    events = [
        {"start": "1970-01-01T01:00:00Z", "minutes": 10, "source": "cooking"},
        {"start": "1970-01-01T01:25:00Z", "minutes": 5, "source": "cooking"},
        {"start": "1970-01-01T03:00:00Z", "minutes": 5, "source": "solid_fuel"},
    ]
    found = true_bursts(events, time, level)
    assert [(b.start, b.end, b.rise) for b in found] == [(3600.0, 5400.0, 25.0), (10800.0, 11100.0, 0.0)]


def test_a_seed_gives_one_house_and_its_own_loggers() -> None:
    one, again = (variety_of(3001, Loggers.IN_DUCT, has_works=True) for _ in range(2))
    assert one == again
    assert one != variety_of(3003, Loggers.IN_DUCT, has_works=True)
    assert {loggers_of(3001), loggers_of(3002)} == set(Loggers)
    assert Quirk.NO_WORK in variety_of(3001, Loggers.IN_DUCT, has_works=False).quirks


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
    assert (score.median_error, score.mean_error) == pytest.approx((0.2, 0.2))
    assert score.interval_score == pytest.approx((0.4 + 0.2 + 20 * 0.2) / 2)
    assert claimed([Verdict.SHOWN, Verdict.WORSE, Verdict.NOT_SHOWN, Verdict.SHOWN]) == (2, 1, 1)


@pytest.mark.slow
def test_the_page_has_a_row_for_every_design_and_quantity() -> None:
    text = page({IN_DUCT: found(IN_DUCT), NOTHING_DONE: found(NOTHING_DONE)}, datetime(2025, 1, 2, tzinfo=UTC))
    for design in (IN_DUCT, NOTHING_DONE):
        for name, _, _ in QUANTITIES:
            assert f"| {design.name} | {name} |" in text
    assert f"{HOMES} homes of each design" in text
    assert "2025-01-02" in text
