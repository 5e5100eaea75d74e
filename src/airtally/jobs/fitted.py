"""What rests on the logs: findings of the readings alone; phases, forecasts, fan rule and proof of one fit."""

from __future__ import annotations

import numpy as np

from airtally.errors import Problem
from airtally.fanrules.search import answer as fan_rule_answer
from airtally.findings.look import look
from airtally.findings.parts import Finding
from airtally.findings.without_fit import look_without_fit, only_tests
from airtally.inference.fit import Fit, fit_house
from airtally.jobs.inputs import JobInputs, Progress
from airtally.network.answers import PressureAnswers
from airtally.network.home.house_flows import with_measured_flows
from airtally.proof.effects import prove
from airtally.proposals.forecast import airflow_ratios, forecasts
from airtally.proposals.propose import Proposal
from airtally.record.documents import Document
from airtally.record.of_answers import (
    effects_document,
    fan_rule_document,
    forecasts_document,
    not_identified_document,
    proof_document,
)
from airtally.record.of_findings import findings_document
from airtally.record.of_fit import events_document, phases_document, room_document, shares_of
from airtally.record.of_proposals import proposals_document
from airtally.scenario.baseline import baseline_of


def answers_of_logs(
    inputs: JobInputs, answers: PressureAnswers, proposals: tuple[Proposal, ...], *, seed: int, progress: Progress
) -> tuple[Document, tuple[Problem, ...], int]:
    """Return what the logs say, the problems met, and the number of the fit's draws; none where nothing was fitted."""
    progress("looking at tests, leaks and meters")
    plain, problems = look_without_fit(inputs.house, inputs.log)
    sections: Document = {"findings": findings_document(plain)} if plain else {}
    tests = only_tests(inputs.house, inputs.log)
    if tests is not None:
        return sections, (*problems, tests), 0
    progress("fitting the house to its readings")
    measured = with_measured_flows(inputs.house, inputs.visits, answers.calibrated)
    fit = fit_house(measured, inputs.log, inputs.phases, inputs.fan, rng=np.random.default_rng(seed))
    if isinstance(fit, Problem):
        return sections, (*problems, fit), 0
    found, more = fitted_answers(inputs, fit, plain, answers, proposals, seed=seed, progress=progress)
    return sections | found, problems + more, fit.draws


def fitted_answers(
    inputs: JobInputs,
    fit: Fit,
    plain: tuple[Finding, ...],
    answers: PressureAnswers,
    proposals: tuple[Proposal, ...],
    *,
    seed: int,
    progress: Progress,
) -> tuple[Document, tuple[Problem, ...]]:
    """Return what rests on the fit: phases, findings, forecasts, fan rule and proof, all on the same draws.

    ``plain`` findings, which need no fit, stand after the fit's own; ``proposals`` get what the replay foretells.
    """
    progress("tallying sources, paths and removal")
    baseline = baseline_of(fit)
    shares = shares_of(fit, baseline)
    progress("comparing before and after")
    proofs = prove(fit, baseline, np.random.default_rng(seed + 1))
    progress("replaying measures and fan rules")
    found, problems = forecasts(fit, baseline, airflow_ratios(answers))
    rule = fan_rule_answer(fit, baseline)
    findings = look(inputs.house, inputs.log, fit, baseline, inputs.clock_jumps)
    sections = {
        "phases": phases_document(fit, shares),
        "events": events_document(fit),
        "room_pm25": room_document(fit),
        "effects": effects_document(proofs),
        "forecasts": proposals_document(inputs.house, proposals, forecasts_document(fit, found)),
        "fan_rule": fan_rule_document(fit, rule) if rule is not None else None,
        "proof": proof_document(proofs),
        "findings": findings_document(findings + plain),
        "not_identified": not_identified_document(fit),
    }
    return sections, fit.problems + problems
