"""What needs no log and no fit: safety, pressures, test-in beside test-out."""

from __future__ import annotations

from airtally.errors import Problem
from airtally.house.parts import House
from airtally.jobs.inputs import JobInputs
from airtally.network.answers import PressureAnswers
from airtally.proposals.propose import Proposal, propose
from airtally.record.documents import Document
from airtally.record.of_commissioning import commissioning_document
from airtally.record.of_findings import filter_plan_document
from airtally.record.of_pressures import HOOKUP_TITLE, pressures_document
from airtally.record.of_proposals import proposals_document
from airtally.record.of_safety import safety_document, visit_readings_document
from airtally.report.hookup_drawing import hookup_drawing
from airtally.safety.assess import assess


def driveway_answers(
    inputs: JobInputs, answers: PressureAnswers
) -> tuple[Document, tuple[Proposal, ...], tuple[Problem, ...]]:
    """Return what needs no log and no fit: safety, pressures, proposals, test-in beside test-out; and the proposals."""
    verdict = assess(inputs.house, inputs.visits, inputs.log, answers.cases)
    proposals, unknown = propose(inputs.house, inputs.visits, verdict, answers)
    sections = {
        "safety": safety_document(verdict, inputs.house),
        "pressures": pressures_document(answers) | _hookup_drawing(answers, inputs.house),
        "visit_readings": visit_readings_document(inputs.visits, inputs.house),
        "commissioning": commissioning_document(inputs.house, inputs.visits, verdict),
        "filter_plan": filter_plan_document(inputs.house),
        "forecasts": proposals_document(inputs.house, proposals),
    }
    return sections, proposals, verdict.problems + answers.problems + unknown


def _hookup_drawing(answers: PressureAnswers, house: House) -> Document:
    """Return the hookup as a drawing for the record, nothing where no hookup was worked out."""
    if answers.hookup is None:
        return {}
    drawn = hookup_drawing(answers.hookup.design, is_invented=house.is_invented)
    return {
        "hookup_drawing": {"title": drawn.title, "sentence": drawn.sentence, "svg": drawn.svg, "answer": HOOKUP_TITLE}
    }
