"""Gates, CO, combustion, verdict: from survey, visits and log, never from a fit and never from particles."""

from airtally.safety.assess import assess, not_retested
from airtally.safety.burns import fires_tested, logged_burns
from airtally.safety.carbon_monoxide import alarm_sentence, carbon_monoxide_findings
from airtally.safety.cautions import CAUTIONS, cautions_for
from airtally.safety.gates import blocked_forms, gate_answers
from airtally.safety.outages import safety_outages
from airtally.safety.parts import (
    BlockedForm,
    Caution,
    GateAnswer,
    Grade,
    HandOver,
    LimitComparison,
    Outage,
    Restriction,
    SafetyFinding,
    SafetyVerdict,
    SequenceStep,
    Standing,
    StepState,
    Topic,
    ZoneSequence,
)
from airtally.safety.problems import FINDINGS, PROBLEMS
from airtally.safety.restrictions import restrictions
from airtally.safety.sequence import zone_sequence, zone_sequences
from airtally.safety.words import DEGREE_STEP, fill, show_plain

__all__ = [
    "CAUTIONS",
    "DEGREE_STEP",
    "FINDINGS",
    "PROBLEMS",
    "BlockedForm",
    "Caution",
    "GateAnswer",
    "Grade",
    "HandOver",
    "LimitComparison",
    "Outage",
    "Restriction",
    "SafetyFinding",
    "SafetyVerdict",
    "SequenceStep",
    "Standing",
    "StepState",
    "Topic",
    "ZoneSequence",
    "alarm_sentence",
    "assess",
    "blocked_forms",
    "carbon_monoxide_findings",
    "cautions_for",
    "fill",
    "fires_tested",
    "gate_answers",
    "logged_burns",
    "not_retested",
    "restrictions",
    "safety_outages",
    "show_plain",
    "zone_sequence",
    "zone_sequences",
]  # fmt: skip
