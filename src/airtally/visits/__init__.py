"""Visits: what was measured on site, in which house state, and what may be compared with what."""

from airtally.estimates import Missing
from airtally.visits.kinds import CHECKS, GATES, READING_KINDS, SI_UNIT, Dimension, ReadingKind, StatePart
from airtally.visits.pair import Likeness, NotRetested, Pairing, ReadingPair, pair_like_states
from airtally.visits.parts import (
    ALL,
    Answer,
    Doors,
    HandlerMode,
    HouseState,
    Reading,
    VentStart,
    Visit,
    VisitAction,
    VisitInstrument,
    VisitKind,
)
from airtally.visits.problems import PROBLEMS
from airtally.visits.read import parse_visits, read_visits

__all__ = [
    "ALL", "CHECKS", "GATES", "PROBLEMS", "READING_KINDS", "SI_UNIT", "Answer", "Dimension", "Doors", "HandlerMode",
    "HouseState", "Likeness", "Missing", "NotRetested", "Pairing", "Reading", "ReadingKind", "ReadingPair", "StatePart",
    "VentStart", "Visit", "VisitAction", "VisitInstrument", "VisitKind", "pair_like_states", "parse_visits",
    "read_visits",
]  # fmt: skip
