"""The record's ``forecasts``: each proposal with order, price, checks and what it waits for; PM2.5 where a fit foretells it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from airtally.estimates import Estimate
from airtally.house.parts import House
from airtally.proposals.propose import Check, Proposal
from airtally.proposals.waits import Wait
from airtally.record.answer_rows import INCHES, UNITS_HERE
from airtally.record.documents import Document
from airtally.record.numbers import field
from airtally.record.of_safety import limit_document, shown


def proposals_document(
    house: House, proposals: tuple[Proposal, ...], forecasts: Mapping[str, Document] | None = None
) -> Document:
    """Return the record's ``forecasts``, in the order of doing.

    Parameters
    ----------
    house : House
        For the currency.
    proposals : tuple of Proposal
    forecasts : mapping, optional
        By measure id: what the replay of the latest weeks adds to an entry.
    """
    document: Document = {}
    for proposal in proposals:
        measure = proposal.measure
        entry: Document = {
            "name": measure.priced.name,
            "stage": int(measure.priced.stage),
            "step": proposal.step,
            "what": measure.what,
            "cautions": list(measure.cautions),
            "checks": [_check(one) for one in proposal.checks],
            "must_retest": list(measure.must_retest),
            "parts": list(measure.parts),
            "waits_for": [_wait(one) for one in proposal.waits],
        }
        if np.isfinite(measure.priced.price_low) and np.isfinite(measure.priced.price_high):
            entry["cost"] = {
                "low": measure.priced.price_low,
                "high": measure.priced.price_high,
                "currency": house.currency,
                "per": "once",
            }
        document[measure.priced.id] = entry | dict((forecasts or {}).get(measure.priced.id, {}))
    return document


def _check(check: Check) -> Document:
    entry: Document = {"name": check.name, "outcome": check.outcome, "quantity": _figure(check.name, check.number)}
    if check.sentence:
        entry["sentence"] = check.sentence
    if check.limit is not None:
        entry["limit"] = limit_document(check.limit)
    return entry


def _wait(wait: Wait) -> Document:
    entry: Document = {"what": wait.what, "because": wait.because, "lifted_by": wait.lifted_by}
    if wait.figures:
        entry["figures"] = [{"name": name, "quantity": shown(number)} for name, number in wait.figures]
    if wait.limit is not None:
        entry["limit"] = limit_document(wait.limit)
    return entry


def _figure(name: str, number: Estimate) -> Document:
    """Return a check's number in the unit its gauge shows: statics in inches of water, rises as a difference."""
    if name.startswith("total external static"):
        return field(number, "inH2O", INCHES)
    return field(number, *UNITS_HERE[number.unit]) if number.unit in UNITS_HERE else shown(number)
