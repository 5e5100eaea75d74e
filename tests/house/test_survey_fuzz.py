"""No bytes make the reader raise, and no house it returns holds a number that is none."""

from __future__ import annotations

import math
import random
import re

from hypothesis import given, settings
from hypothesis import strategies as st
from survey_texts import SMALL, example

from airtally.house.parts import House
from airtally.house.problems import PROBLEMS
from airtally.house.survey import survey_from_bytes

EXAMPLE = example()
VALUES = (
    "1", "-1", "nan", "inf", "1e400", "10" + "0" * 400, "true", '""', '"\\u0000"', "[]", "[[]]", "{}", "{ a = 1 }", "2025-10-01",
    "2025-10-01T08:00:00Z", "0001-01-01", "9999-12-31T23:59:59-23:59", "08:00:00", '"9999-12-31"', '"-5 cfm"', '"1e308 cfm"',
    '"not measured"', '"outdoors"', '"main"', '"\u00b2"', "[1, 2, 3]", '["15 %", "x", "75 %"]', '"2025-10-01 25:00"',
)  # fmt: skip
ASSIGNMENT = re.compile(r"^(\s*[a-z_0-9]+ = )(.*)$", re.MULTILINE)


def is_sound(house: House) -> bool:
    """Return whether all a house carries is finite, ordered and explained."""
    numbers = [x for z in house.zones for x in (z.volume.low, z.volume.value, z.volume.high)]
    numbers += [x for e in house.exhausts for x in (e.flow.low, e.flow.value, e.flow.high)]
    numbers += [c.time for c in house.changes] + [house.elevation]
    known = all(p.code in PROBLEMS and p.sentence().isprintable() for p in house.problems)
    dated = all(p.since < p.until for p in (*house.exhausts, *house.placements, *house.envelopes))
    return known and dated and all(math.isfinite(x) for x in numbers)


@settings(max_examples=300)
@given(content=st.binary(max_size=200))
def test_no_bytes_raise(content: bytes) -> None:
    assert is_sound(survey_from_bytes(content))


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_no_damaged_survey_raises(seed: int) -> None:
    draw = random.Random(seed)
    content = bytearray(EXAMPLE.encode())
    for _ in range(draw.randint(1, 8)):
        at = draw.randrange(len(content))
        content[at : at + draw.randint(0, 30)] = bytes(draw.choice(b'"[]{}=#\n.,- 09azAZ\xff\x00') for _ in range(3))
    assert is_sound(survey_from_bytes(bytes(content)))


@settings(max_examples=250, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), text=st.sampled_from([SMALL, EXAMPLE]))
def test_no_value_of_any_form_at_any_key_raises(seed: int, text: str) -> None:
    draw = random.Random(seed)
    places = list(ASSIGNMENT.finditer(text))
    for place in sorted(draw.sample(places, draw.randint(1, 4)), key=lambda p: -p.start()):
        text = text[: place.start(2)] + draw.choice(VALUES) + text[place.end(2) :]
    assert is_sound(survey_from_bytes(text.encode()))


@settings(max_examples=150, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_no_missing_line_or_heading_raises(seed: int) -> None:
    draw = random.Random(seed)
    lines = [line for line in EXAMPLE.splitlines() if draw.random() > 0.1]
    if draw.random() < 0.3:
        draw.shuffle(lines)
    assert is_sound(survey_from_bytes("\n".join(lines).encode()))


def test_sections_of_every_wrong_shape_are_reported() -> None:
    for shape in ("1", '"x"', "[1, 2]", "{ x = 1 }", "[{ x = 1 }, 2]", "[[1]]", "2025-10-01"):
        for name in ("home", "zone", "envelope", "air_handler", "cleaner", "log", "trial", "prices", "target", "rule"):
            house = survey_from_bytes(f"schema = 1\n{name} = {shape}\n".encode())
            assert is_sound(house)
            assert any(f"survey.toml, {name}" in p.where for p in house.problems)
    deep = survey_from_bytes(b"schema = 1\nhome = " + b"[" * 5000 + b"]" * 5000)
    assert deep.problems[0].code == "survey-not-toml"
