"""The problems that reading a visits file can raise."""

from __future__ import annotations

PROBLEMS: dict[str, str] = {
    "visits-file-unreadable": "visits.toml could not be read or is not TOML; no visit is used.",
    "visits-schema": "The schema number of visits.toml is missing or not known; the file is read as schema 1.",
    "visits-key-unknown": "A key in visits.toml is not one that airtally knows; it is not used.",
    "visits-value-wrong-type": "A value in visits.toml is of the wrong type; it is not used.",
    "visits-id-repeated": "Two visits have the same id; the later one gets a number behind its id.",
    "visits-kind-unknown": "A visit's kind is not one of the four; the visit is not used.",
    "visits-time-unreadable": "A time in visits.toml could not be read; a visit without time is not used.",
    "visits-time-in-fold": "A local time happens twice that night (clocks go back); the first one is taken.",
    "visits-time-in-gap": "A local time never happened (clocks go forward); the clock before the change is taken.",
    "visits-state-unknown": "A word for doors, air handler, fires, exhausts or vent is not known; unknown is taken.",
    "visits-reading-key-unknown": "A reading's key is not one that airtally knows; the reading is not used.",
    "visits-reading-refused": "A reading's value is no quantity of the wanted kind; the reading counts as unknown.",
    "visits-reading-negative": "A reading that cannot be below zero is negative; it counts as unknown.",
    "visits-reference-missing": "A pressure difference has no reference; it counts as unknown.",
    "visits-reading-repeated": "Two readings of the same thing in the same state; both are kept, the later governs.",
    "visits-instrument-unknown": "A reading names an instrument that is not listed; a usual accuracy is taken.",
    "visits-accuracy-refused": "An instrument's accuracy or resolution could not be read; a usual accuracy is taken.",
    "visits-gate-unanswered": "A gate was not answered yes, no or unknown; it counts as unknown and blocks.",
    "visits-sign-doubtful": "A draft or worst-case pressure is above zero; the sign may have been left out.",
    "visits-value-doubtful": "A reading is far outside what houses show; the unit may be wrong. It is used as written.",
}
"""Problem code to meaning."""
