"""The problems that the network room can raise."""

from __future__ import annotations

PROBLEMS: dict[str, str] = {
    "network-no-envelope-leakage": "Neither survey nor visits give the house leakage; no house pressure is computed.",
    "network-statics-disagree": "Static pressures of one visit do not add up; the size of the conflict is stated.",
    "network-leaks-disagree": "Duct leakage and house pressure contradict each other; the nearest split is taken.",
    "network-flow-disagrees": "Survey and visit give different flows for one device; the visit's governs.",
    "network-exhaust-not-measured": "An exhaust's flow was not measured; the pressure it makes is as unsure as it.",
    "network-names": "A link or node of a pressure network has a name that is missing, doubled or joined to itself.",
    "network-bad-number": "A pressure network holds a number that its law cannot take; that state is not computed.",
    "network-fan-curve": "The points of a fan curve do not fall with flow; the state with this fan is not computed.",
    "network-not-connected": "A part of a pressure network has no path of air to outdoors, so its pressure is unknown.",
    "network-not-converged": "No balance of flows was found for a pressure network; no number of that state is shown.",
}
"""Problem code to meaning."""
