"""The problems that the network room can raise."""

from __future__ import annotations

PROBLEMS: dict[str, str] = {
    "network-no-envelope-leakage": "Neither survey nor visits give the house leakage; no house pressure is computed.",
    "network-statics-disagree": "Static pressures of one visit do not add up; the size of the conflict is stated.",
    "network-leaks-disagree": "Duct leakage and house pressure contradict each other; the nearest split is taken.",
    "network-flow-disagrees": "Survey and visit give different flows for one device; the visit's governs.",
    "network-exhaust-not-measured": "An exhaust's flow was not measured; the pressure it makes is as unsure as it.",
}
"""Problem code to meaning."""
