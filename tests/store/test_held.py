"""What is held is made once, the longest unused goes first, and nothing is not held."""

from __future__ import annotations

from airtally.held import Held


def test_a_value_is_made_once_and_the_longest_unused_goes_first() -> None:
    held: Held[str, str] = Held(2)
    made: list[str] = []

    def make(key: str) -> str:
        made.append(key)
        return key.upper()

    for key in ("a", "b", "a", "c", "a", "b"):
        assert held.of(key, lambda key=key: make(key)) == key.upper()
    assert made == ["a", "b", "c", "b"]


def test_nothing_is_asked_for_again() -> None:
    held: Held[str, str | None] = Held(2)
    answers = iter([None, "found"])
    assert held.of("a", lambda: next(answers)) is None
    assert held.of("a", lambda: next(answers)) == "found"
    assert held.of("a", lambda: next(answers)) == "found"
