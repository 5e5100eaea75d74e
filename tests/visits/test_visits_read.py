"""Reading visits.toml: the documented example, three kinds of missing, and files with faults."""

from __future__ import annotations

import re
import tomllib
from math import inf
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from airtally.visits import (
    ALL,
    CHECKS,
    GATES,
    PROBLEMS,
    READING_KINDS,
    SI_UNIT,
    Answer,
    Doors,
    HandlerMode,
    Missing,
    VisitKind,
    parse_visits,
    read_visits,
)

DOCS = Path(__file__).parents[2] / "docs" / "visits.md"
ZONE = "America/Denver"


def example_text() -> str:
    found = re.search(r"```toml\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)
    assert found is not None
    return found.group(1)


def one_reading(line: str, more: str = "") -> str:
    gates = "\n".join(f'{gate} = "no"' for gate in GATES)
    return (
        f'schema = 1\n[[visit]]\nkind = "test-in"\ntime = "2025-09-23 09:30"\nreading = [{line}]\n'
        f"{more}\n[visit.gates]\n{gates}\n"
    )


def test_the_documented_example_reads_without_a_problem(tmp_path: Path) -> None:
    path = tmp_path / "visits.toml"
    path.write_text(example_text(), encoding="utf-8")
    visits, problems = read_visits(path, ZONE)
    assert [p.sentence() for p in problems] == []
    (visit,) = visits
    assert visit.kind is VisitKind.TEST_IN
    # 09:30 in Denver on 23 September 2025 is 15:30 UTC (UTC-6, daylight saving).
    assert_allclose(visit.time, 1758641400.0)
    assert len(visit.readings) == 19
    assert visit.gate("suspect_wrap") is Answer.UNKNOWN
    assert visit.check("filter_seated") is Answer.NO
    assert visit.actions[0].by == "office"


def test_values_become_si_by_the_exact_factors() -> None:
    """1 cfm = 0.4719474 L/s and 1 inH2O = 249.089 Pa: NIST SP 811."""
    (visit,), _ = parse_visits(tomllib.loads(example_text()), ZONE)

    def value(key: str, place: str | None = None) -> float:
        found = visit.find(key, place)[0].estimate
        assert found is not None
        return found.value

    assert_allclose(value("cfm50"), 2350 * 0.4719474e-3, rtol=1e-6)
    assert_allclose(value("tesp"), 0.86 * 249.089, rtol=1e-5)
    assert_allclose(value("heat_rise"), 71 / 1.8, rtol=1e-9)  # a difference: no 32 is subtracted
    assert_allclose(value("co_ambient", "utility"), 2e-6, rtol=1e-9)
    assert_allclose(value("spillage_time"), 300.0)


def test_states_come_from_the_visit_unless_the_line_says_otherwise() -> None:
    (visit,), _ = parse_visits(tomllib.loads(example_text()), ZONE)
    worst = visit.find("worst_case_pressure_change")[0].state
    assert (worst.doors, worst.air_handler, worst.exhausts_on) == (Doors.WORST_CASE, HandlerMode.HEATING, ALL)
    assert worst.fires_lit == ()
    assert visit.state.doors is Doors.OPEN


def test_the_three_kinds_of_missing_stay_three_and_none_is_zero() -> None:
    values = {}
    for missing in Missing:
        text = one_reading(f'{{key = "coil_drop", value = "{missing.value}"}}')
        (visit,), problems = parse_visits(tomllib.loads(text), ZONE)
        assert problems == ()
        values[missing] = visit.readings[0].value
        assert visit.readings[0].estimate is None
    assert len(set(values.values())) == 3
    (visit,), _ = parse_visits(tomllib.loads(one_reading('{key = "coil_drop", value = "0 Pa"}')), ZONE)
    assert visit.readings[0].estimate is not None


def test_one_sided_values_leave_the_other_end_open() -> None:
    text = one_reading(
        '{key = "spillage_time", value = "at least 5 min"}, {key = "co_ambient", value = "at most 1 ppm"}'
    )
    (visit,), _ = parse_visits(tomllib.loads(text), ZONE)
    spill, gas = (r.estimate for r in visit.readings)
    assert spill is not None
    assert gas is not None
    assert (spill.low, spill.high) == (300.0, inf)
    assert_allclose((gas.low, gas.high), (0.0, 1e-6))


def test_interval_comes_from_the_text_then_the_instrument_then_the_trade() -> None:
    gauge = '[[visit.instrument]]\nid = "g"\naccuracy = "1 %"\nresolution = "2 Pa"'
    lines = (
        '{key = "tesp", value = "100 Pa (80 to 130)", instrument = "g"},'
        '{key = "tesp", value = "100 Pa", instrument = "g", place = "b"},'
        '{key = "tesp", value = "100 Pa", place = "c"}'
    )
    (visit,), problems = parse_visits(tomllib.loads(one_reading(lines, gauge)), ZONE)
    assert problems == ()
    first, second, third = (r.estimate for r in visit.readings)
    assert first is not None
    assert second is not None
    assert third is not None
    assert_allclose((first.low, first.high), (80.0, 130.0))
    assert_allclose(second.high - second.value, (1.0**2 + 1.0**2) ** 0.5)  # 1 % of 100 Pa and half of 2 Pa
    assert_allclose(third.high - third.value, (2.0**2 + 0.3**2) ** 0.5)  # usual accuracy: 2 % and 0.3 Pa


def test_a_return_static_may_be_written_with_either_sign() -> None:
    lines = '{key = "return_static", value = "-0.4 inH2O"}, {key = "return_static", value = "0.4 inH2O", place = "b"}'
    (visit,), _ = parse_visits(tomllib.loads(one_reading(lines)), ZONE)
    first, second = (r.estimate for r in visit.readings)
    assert first is not None
    assert second is not None
    assert_allclose((first.value, first.low, first.high), (second.value, second.low, second.high))


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ('{key = "cfm5O", value = "1 cfm"}', "visits-reading-key-unknown"),
        ('{key = "cfm50", value = "2350"}', "visits-reading-refused"),
        ('{key = "cfm50", value = "2350 Pa"}', "visits-reading-refused"),
        ('{key = "cfm50", value = "-2 cfm"}', "visits-reading-negative"),
        ('{key = "cfm50", value = 2350}', "visits-value-wrong-type"),
        ('{key = "zone_pressure", value = "-3 Pa"}', "visits-reference-missing"),
        ('{key = "draft", value = "4 Pa", reference = "utility"}', "visits-sign-doubtful"),
        ('{key = "tesp", value = "8.6 kPa"}', "visits-value-doubtful"),
        ('{key = "tesp", value = "86 Pa", instrument = "nobody"}', "visits-instrument-unknown"),
        ('{key = "tesp", value = "86 Pa", doors = "ajar"}', "visits-state-unknown"),
        ('{key = "tesp", value = "86 Pa", door = "open"}', "visits-key-unknown"),
        ('{key = "tesp", value = "86 Pa"}, {key = "tesp", value = "87 Pa"}', "visits-reading-repeated"),
        ('{key = "tesp", value = "86 Pa", time = "noon"}', "visits-time-unreadable"),
        ('{key = "tesp", value = "86 Pa", time = "2025-11-02 01:30"}', "visits-time-in-fold"),
        ('{key = "tesp", value = "86 Pa", time = "2025-03-09 02:30"}', "visits-time-in-gap"),
    ],
)
def test_each_fault_of_a_line_is_one_problem_with_place_and_remedy(line: str, code: str) -> None:
    _, problems = parse_visits(tomllib.loads(one_reading(line)), ZONE)
    found = [p for p in problems if p.code == code]
    assert len(found) == 1
    assert "reading[" in found[0].where or "reading" in found[0].found or "tesp" in found[0].where
    assert found[0].remedy
    assert code in PROBLEMS


def test_a_gate_that_was_not_asked_is_unknown_and_a_problem() -> None:
    content = {"schema": 1, "visit": [{"kind": "test-in", "time": "2025-09-23 09:30"}]}
    (visit,), problems = parse_visits(content, ZONE)
    assert {p.code for p in problems} == {"visits-gate-unanswered"}
    assert len(problems) == len(GATES)
    assert all(visit.gate(gate) is Answer.UNKNOWN for gate in GATES)


def test_visits_are_returned_in_order_of_time_and_get_ids_of_their_own() -> None:
    content = {
        "schema": 1,
        "visit": [
            {"kind": "test-out", "time": "2025-10-03 10:00", "id": "v"},
            {"kind": "test-in", "time": "2025-09-23 09:30", "id": "v"},
        ],
    }
    visits, problems = parse_visits(content, ZONE)
    assert [v.kind for v in visits] == [VisitKind.TEST_IN, VisitKind.TEST_OUT]
    assert len({v.id for v in visits}) == 2
    assert "visits-id-repeated" in {p.code for p in problems}


def test_a_file_that_is_not_there_is_a_job_without_visits(tmp_path: Path) -> None:
    assert read_visits(tmp_path / "visits.toml", ZONE) == ((), ())


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"[[visit", b"visit = 3\n", b"", b"[" * 5000])
def test_a_broken_file_is_a_problem_and_not_a_traceback(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "visits.toml"
    path.write_bytes(content)
    visits, problems = read_visits(path, ZONE)
    assert visits == ()
    assert problems
    assert all(p.code in PROBLEMS for p in problems)


_plain = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=12))
_junk = st.recursive(
    _plain,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=8), inner, max_size=3)),
    max_leaves=6,
)
_value = st.one_of(_junk, st.sampled_from(["5 Pa", "at least 5 min", "1e400 cfm", "2 ppm", "unknown", "at most "]))
_reading = st.fixed_dictionaries(
    {"key": st.one_of(st.sampled_from(sorted(READING_KINDS)), _junk), "value": _value},
    optional={
        "place": _junk, "reference": _junk, "doors": _junk, "exhausts_on": _junk, "time": _junk, "instrument": _junk,
    },
)  # fmt: skip
_visit = st.fixed_dictionaries(
    {"kind": st.one_of(st.sampled_from(list(VisitKind)), _junk), "time": st.one_of(st.just("2025-09-23"), _junk)},
    optional={
        "id": _junk, "state": _junk, "gates": _junk, "checks": _junk, "instrument": _junk, "action": _junk,
        "reading": st.one_of(_junk, st.lists(_reading, max_size=4)),
    },
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(content=st.fixed_dictionaries({"visit": st.one_of(_junk, st.lists(_visit, max_size=2))}))
def test_no_content_makes_a_traceback_and_every_line_is_counted(content: dict[str, object]) -> None:
    visits, problems = parse_visits(content, ZONE)
    assert all(p.code in PROBLEMS for p in problems)
    written = content["visit"]
    if not isinstance(written, list):
        return
    lines = sum(len(v["reading"]) for v in written if isinstance(v, dict) and isinstance(v.get("reading"), list))
    kept = sum(len(v.readings) for v in visits)
    assert kept <= lines
    if kept < lines:
        assert problems


def test_every_key_stands_in_the_docs_with_its_meaning() -> None:
    text = DOCS.read_text(encoding="utf-8")
    for key, kind in READING_KINDS.items():
        row = next((line for line in text.splitlines() if line.startswith(f"| `{key}` |")), "")
        assert kind.meaning in row, key
        assert kind.dimension.value in row, key
        assert kind.dimension in SI_UNIT
    for name, meaning in CHECKS.items():
        assert f"| `{name}` | {meaning} |" in text
    for gate in GATES:
        assert f"| `{gate}` |" in text
