"""The problems that the network room can raise."""

from __future__ import annotations

PROBLEMS: dict[str, str] = {
    "network-no-envelope-leakage": "Neither survey nor visits give the house leakage; no house pressure is computed.",
    "network-statics-disagree": "Static pressures of one visit do not add up; the size of the conflict is stated.",
    "network-reading-disagrees": "A gauge reading lies further from what all others make than its error explains; both figures are said.",
    "network-flow-disagrees": "Survey and visit give different flows for one device; the visit's governs.",
    "network-exhaust-not-measured": "An exhaust's flow was not measured; the pressure it makes is as unsure as it.",
    "network-names": "A link or node of a pressure network has a name that is missing, doubled or joined to itself.",
    "network-bad-number": "A pressure network holds a number that its law cannot take; that state is not computed.",
    "network-fan-curve": "The points of a fan curve do not fall with flow; the state with this fan is not computed.",
    "network-not-connected": "A part of a pressure network has no path of air to outdoors, so its pressure is unknown.",
    "network-pressure-beyond": "A fixed flow or a lift drives a pressure beyond a tenth of the site's; that state is not shown.",
    "network-not-converged": "No balance of flows was found for a pressure network; no number of that state is shown.",
    "network-fan-table-unusable": "A fan table holds no curve; the blower's curve comes from its measured point and motor kind.",
    "network-fan-table-humped": "A fan table rises with flow over a span; it is levelled there and gives no answer in that span.",
    "network-fan-table-disagrees": "Measured flow and static lie away from the fan table; the measured point governs.",
    "network-fan-point-altered": "An operating point falls where a fan table rises with flow; no answer is given.",
    "network-fan-point-outside": "An operating point falls past the ends of a fan table; no answer is given.",
    "network-hookup-taps-reversed": "A bypass cleaner's re-entry lies upstream of its take-off; it takes in its own air.",
    "network-hookup-taps-close": "The taps of a bypass cleaner are close together; own air taken in again is given a wide interval.",
    "network-hookup-no-flow": "A cleaner's fan may not overcome its loop; the loop's flow may be nothing.",
    "network-hookup-flow-short": "No duct size lets a cleaner move the flow that the wanted cleaning needs.",
    "network-hookup-flow-disagrees": "A cleaner's measured flow lies away from fan and loop; the measured flow governs.",
    "network-sensor-sampling-short": "A sample's fan time is shorter than duct, blower and sensor need; it reads the duct.",
    "network-flue-not-sized": "Height or section of a flue is not known; no draft is computed for it.",
    "network-flue-wall-assumed": "Wall or place of a flue is not known; its band spans every kind.",
    "network-draft-weather-assumed": "The outdoor temperature of a draft is not known; its band spans cold and mild.",
    "network-draft-disagrees": "A draft that was read lies outside the estimate's band; the size is stated.",
    "network-ventilation-size-unknown": "Floor area or bedrooms are not known; no required ventilation is computed.",
    "network-no-infiltration-credit": "The house leakage was not measured; infiltration counts for nothing.",
    "network-weather-factor-assumed": "The weather factor of the place is not known; the credit spans several climates.",
    "network-ventilation-not-measured": "The flow of a ventilation fan, or how long it runs, is not known.",
    "network-supply-cannot-hold": "No supply flow that was tried holds the house above the pressure asked for.",
}
"""Problem code to meaning."""
