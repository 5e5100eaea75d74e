"""The house at a moment and the phases between changes."""

from __future__ import annotations

from survey_texts import added, example, read_text

from airtally.house.dates import house_at, phases_of

BEFORE = 1758500000.0
"""22 September 2025: before all work of the example."""
AFTER = 1762600000.0
"""8 November 2025: after all of it."""
DAY = 86400.0


def test_a_moment_sees_only_the_parts_that_were_there() -> None:
    house = read_text(example())
    early, late = house_at(house, BEFORE), house_at(house, AFTER)
    assert early.air_handler is not None
    assert late.air_handler is not None
    assert [f.id for f in early.air_handler.filters] == ["one-inch"]
    assert [f.id for f in late.air_handler.filters] == ["four-inch-again"]
    assert ([c.id for c in early.cleaners], [c.id for c in late.cleaners]) == ([], ["bypass"])
    assert len(early.envelopes) == len(late.envelopes) == 1
    assert [p.id for p in early.placements if p.instrument == "M4"] == ["return-drop"]
    assert [p.id for p in late.placements if p.instrument == "M4"] == ["after-cleaner"]
    assert [a.id for a in late.appliances if a.kind.value == "water heater"] == ["water-heater-sealed"]


def test_until_is_the_first_moment_without_a_part() -> None:
    house = read_text(example())
    change = next(f.until for f in house.air_handler.filters if f.id == "one-inch")  # type: ignore[union-attr]
    at = house_at(house, change).air_handler
    just_before = house_at(house, change - 1.0).air_handler
    assert at is not None
    assert just_before is not None
    assert [f.id for f in at.filters] == ["four-inch"]
    assert [f.id for f in just_before.filters] == ["one-inch"]


def test_works_belong_to_no_phase_and_small_changes_begin_none() -> None:
    house = read_text(example())
    phases = phases_of(house, BEFORE, AFTER)
    install = house.changes[0]
    assert [p.id for p in phases] == ["start", "install"]
    assert (phases[0].start, phases[0].end) == (BEFORE, install.time)
    assert (phases[1].start, phases[1].end) == (install.ends, AFTER)


def test_a_house_without_changes_has_one_phase() -> None:
    phases = phases_of(added(""), BEFORE, AFTER)
    assert [(p.start, p.end) for p in phases] == [(BEFORE, AFTER)]


def test_changes_outside_the_logs_begin_no_phase() -> None:
    phases = phases_of(read_text(example()), AFTER - DAY, AFTER)
    assert len(phases) == 1
