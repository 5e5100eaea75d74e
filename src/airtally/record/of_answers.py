"""The record's effects, forecasts, fan rule and proof, from the rooms that answer those questions."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats
from airtally.estimates import Basis
from airtally.fanrules.search import CAP, NEVER, RuleAnswer, RuleOutcome
from airtally.house.parts import AirSide, House, RuleSetting
from airtally.inference.fit import Fit
from airtally.proof.effects import Proof, RateChange
from airtally.proposals.forecast import Forecast
from airtally.record.documents import Document, moment
from airtally.record.numbers import PER_HOUR, UGM3, from_draws, setting
from airtally.scenario.mapping import is_within_noise
from airtally.scenario.replay import Contrast

REPLAY = "replay on the fit's draws"
HOURS_A_YEAR = 8766.0
JOULES_A_KWH = 3.6e6
HELD_ALIKE = ("weather", "outdoor particles", "what people did and emitted", "when the fan ran")
LIKE_QUESTION = "On the same days, with the same weather, fires and cooking: what did the work change in the rooms?"


def effects_document(proofs: tuple[Proof, ...]) -> Document:
    """Return the record's ``effects``: the same days in the old and the new house."""
    return {
        proof.change_id: {
            "name": proof.name,
            "question": LIKE_QUESTION,
            **_contrast(proof.like_for_like),
            "verdict": proof.like_for_like_verdict.value,
            "held_alike": list(HELD_ALIKE),
            "does_not_say": "It is computed for these weeks and habits; it says nothing of gases, carbon monoxide or draft.",
        }
        for proof in proofs
    }


def _contrast(change: Contrast) -> Document:
    return {
        "before": from_draws(
            change.without, unit="ug/m3", factor=UGM3, source=f"{REPLAY}, the same days in the old house"
        ),
        "after": from_draws(change.with_it, unit="ug/m3", factor=UGM3, source=f"{REPLAY}, as it was"),
        "absolute": from_draws(change.absolute, unit="ug/m3", factor=UGM3, source=REPLAY),
        "percent": from_draws(change.relative, unit="%", factor=100.0, source=REPLAY),
    }


def forecasts_document(fit: Fit, found: tuple[Forecast, ...]) -> dict[str, Document]:
    """Return what the replay of the latest weeks says of each measure, by its id."""
    document: dict[str, Document] = {}
    for forecast in found:
        entry: Document = {
            "mean_pm25": from_draws(forecast.change.with_it, unit="ug/m3", factor=UGM3, source=REPLAY),
            "absolute": from_draws(forecast.change.absolute, unit="ug/m3", factor=UGM3, source=REPLAY),
            "percent": from_draws(forecast.change.relative, unit="%", factor=100.0, source=REPLAY),
        }
        if forecast.time.size:
            entry["weeks"] = _weeks(forecast)
        running = _running_cost(fit.house, forecast.added_power)
        if running is not None:
            entry["running_cost"] = running
        document[forecast.measure.priced.id] = entry
    return document


def _weeks(forecast: Forecast) -> Document:
    """Return the latest weeks as they were breathed and with a measure in place."""

    def rounded(values: Floats) -> list[float]:
        return [round(float(value) * UGM3, 3) for value in values]

    low, high = np.quantile(forecast.with_it, [0.05, 0.95], axis=0)
    return {
        "time": [moment(at) for at in forecast.time],
        "without": rounded(np.median(forecast.without, axis=0)),
        "value": rounded(np.median(forecast.with_it, axis=0)),
        "low": rounded(low),
        "high": rounded(high),
        "unit": "ug/m3",
        "level": 0.90,
        "basis": "fitted",
        "source": REPLAY,
    }


def _running_cost(house: House, watts: float) -> Document | None:
    price = house.energy_price
    if price is None:
        return None
    joules = watts * HOURS_A_YEAR * 3600.0
    return {"low": joules * price.low, "high": joules * price.high, "currency": house.currency, "per": "year"}


def _rule(house: House, rule: RuleSetting) -> Document:
    name = f"the survey's rule '{rule.id}'"
    source = "proposed by replay" if rule not in house.rule_settings else name
    basis = Basis.COMPUTED if rule not in house.rule_settings else Basis.SURVEYED
    entry: Document = {
        "name": rule.id,
        "placement": rule.placement,
        "on_above": setting(rule.on_above * UGM3, "ug/m3", source, basis),
        "off_below": setting(rule.off_below * UGM3, "ug/m3", source, basis),
        "minimum_run": setting(rule.minimum_run / 60.0, "min", source, basis),
        "sampling_minutes": setting(rule.sampling_seconds_per_hour / 60.0, "min/h", source, basis),
        "lockouts": [
            "carbon monoxide, spill temperature or a smoke alarm: no request, and an alert",
            "no data from the safety logger: no request",
            f"a reading above {CAP * UGM3:.0f} ug/m3 at its sensor, which may be a fire: no request, and an alert",
        ],
    }
    if rule.maximum_run is not None:
        entry["maximum_run"] = setting(rule.maximum_run / 60.0, "min", source, basis)
    if rule.early_run:
        entry["early_run"] = rule.early_run
    return entry


def _result(outcome: RuleOutcome, best: Floats | None) -> Document:
    entry: Document = {
        "exposure": from_draws(outcome.exposure, unit="ug/m3", factor=UGM3, source=REPLAY),
        "fan_hours": from_draws(outcome.fan_hours, unit="h/day", source=REPLAY),
        "starts": from_draws(outcome.starts, unit="1/day", source=REPLAY),
        "coverage": from_draws(
            outcome.coverage, unit="1", source=f"{REPLAY}, hours with an event that held a valid sample"
        ),
    }
    if outcome.energy is not None:
        entry["energy"] = from_draws(outcome.energy, unit="kWh/day", factor=1.0 / JOULES_A_KWH, source=REPLAY)
    if best is not None:
        entry["regret"] = from_draws(np.maximum(outcome.exposure - best, 0.0), unit="ug/m3", factor=UGM3, source=REPLAY)
    return entry


def fan_rule_document(fit: Fit, answer: RuleAnswer) -> Document:
    """Return the record's ``fan_rule``."""
    house = fit.house
    in_duct = answer.mapping.side is not AirSide.ROOM
    best = answer.chosen.exposure - answer.regret
    document: Document = {
        "rule": _rule(house, answer.chosen.setting),
        "room_target": setting(
            answer.target * UGM3, "ug/m3", "survey" if house.target else "working figure, common practice, no source"
        ),
        "duct_threshold": from_draws(
            answer.duct_threshold,
            unit="ug/m3",
            factor=UGM3,
            source="room target seen through filter and leaks by the fit",
        ),
        **_result(answer.chosen, best),
        "sampling_minutes": setting(
            answer.least_sampling / 60.0 if in_duct else 0.0,
            "min/h",
            "purge of the duct, three responses of the monitor, one average",
            Basis.COMPUTED,
        ),
        "switch_off": "Set the thermostat's fan to AUTO; the rule's request also expires by itself.",
        "sentences": _sentences(answer, in_duct=in_duct),
    }
    if answer.as_set is not None:
        document["as_set"] = {
            "rule": _rule(house, answer.as_set.setting),
            "result": _result(answer.as_set, best),
            "sentences": _as_set_sentences(answer, in_duct=in_duct),
        }
    cost = None
    if answer.chosen.energy is not None and answer.idle.energy is not None:
        extra = float(np.median(answer.chosen.energy - answer.idle.energy)) / 86400.0
        cost = _running_cost(house, extra)
    if cost is not None:
        document["running_cost"] = cost
    return document


def _sentences(answer: RuleAnswer, *, in_duct: bool) -> list[str]:
    said = [
        "The rule may only ask the fan to circulate and take its own request back; heating and cooling always come first.",
        "It is no safety device: it does not replace alarms, and it must never start the fan when smoke may be a fire.",
    ]
    if in_duct:
        said.append(
            "The monitor sits in the duct: it sees the rooms only while the fan runs, so the fan must run some minutes each hour to look."
        )
        if answer.mapping.side is AirSide.AFTER_FILTER:
            said.append(
                "It sits after the filter: it reads less than the rooms hold, and less again after every filter change."
            )
        if is_within_noise(float(np.median(answer.duct_threshold))):
            said.append(
                "The threshold lies inside a low-cost monitor's own error: a room monitor would be the better trigger."
            )
    if float(np.median(answer.chosen.fan_hours)) > 18.0:
        said.append("On this house the rule runs the fan most of the day: the threshold is near the quiet background.")
    return said


def _as_set_sentences(answer: RuleAnswer, *, in_duct: bool) -> list[str]:
    rule = answer.as_set.setting if answer.as_set is not None else None
    if rule is None:
        return []
    said = []
    if in_duct and rule.sampling_seconds_per_hour < answer.least_sampling:
        said.append("It samples for too short a time each hour: what it reads is mostly the duct's own stale air.")
    if in_duct and rule.on_above < NEVER:
        low, high = np.quantile(answer.duct_threshold, [0.05, 0.95])
        if rule.on_above > high:
            said.append("Its threshold is higher than the room target reads at this sensor: it will miss events.")
        elif rule.on_above < low:
            said.append(
                "Its threshold is lower than the room target reads at this sensor: it will run more than meant."
            )
    return said


def proof_document(proofs: tuple[Proof, ...]) -> Document | None:
    """Return the record's ``proof``: one row per question, for the latest change or the whole job."""
    if not proofs:
        return None
    main = proofs[-1]
    rows = [_rate_row(main, rate) for rate in main.rates]
    rows.append(
        {
            "question": LIKE_QUESTION,
            "name": "same days, old house",
            "kind": "like_for_like",
            "before": from_draws(main.like_for_like.without, unit="ug/m3", factor=UGM3, source=REPLAY),
            "after": from_draws(main.like_for_like.with_it, unit="ug/m3", factor=UGM3, source=REPLAY),
            "effect": from_draws(main.like_for_like.relative, unit="%", factor=100.0, source=REPLAY, level=0.95),
            "verdict": main.like_for_like_verdict.value,
            "evidence": f"{main.like_for_like.without.size} draws of the fit",
            "note": "Computed: it rests on the loss rates of the row above and on what was emitted in these weeks.",
        }
    )
    rows.append(_adjusted_row(main))
    document: Document = {"rows": rows, "not_evidence": [_raw_row(main)], "sentences": []}
    if main.placebo is not None:
        document["placebo"] = {
            "rank": main.placebo.rank,
            "of": main.placebo.of,
            "independent_weeks": round(main.placebo.independent_weeks, 1),
            "effects": [round(float(e) * UGM3, 3) for e in main.placebo.effects],
            "unit": "ug/m3",
            "sentence": "The comparison by days was repeated at dates when nothing was done; "
            "pretended dates overlap, so they count as the independent weeks they span, not as their number.",
        }
    return document


def _rate_row(proof: Proof, rate: RateChange) -> Document:
    state = "circulating" if rate.fan_on else "off"
    return {
        "question": f"How fast does the house remove particles with the fan {state}, at equal weather?",
        "name": f"removal, fan {state}",
        "kind": "loss_rate",
        "before": from_draws(rate.before, unit="1/h", factor=PER_HOUR, source="fit"),
        "after": from_draws(rate.after, unit="1/h", factor=PER_HOUR, source="fit"),
        "effect": from_draws(rate.after - rate.before, unit="1/h", factor=PER_HOUR, source="fit", level=0.95),
        "verdict": rate.verdict.value,
        "evidence": f"{proof.before.name}, {proof.after.name}",
        "note": "A property of house and equipment, not of the days: mild weather cannot make it.",
    }


def _adjusted_row(proof: Proof) -> Document:
    row: Document = {
        "question": "Day by day, with outdoor particles, cold and events held equal: are the rooms lower?",
        "name": "by days, adjusted",
        "kind": "adjusted",
        "verdict": proof.adjusted_verdict.value,
    }
    found = proof.adjusted
    if found is None:
        return row | {
            "before": None,
            "after": None,
            "effect": None,
            "evidence": "fewer than five usable days on one side",
            "note": "More days on both sides would settle it.",
        }
    return row | {
        "before": from_draws(
            found.before, unit="ug/m3", factor=UGM3, source="regression by days", basis=Basis.COMPUTED
        ),
        "after": from_draws(found.after, unit="ug/m3", factor=UGM3, source="regression by days", basis=Basis.COMPUTED),
        "effect": from_draws(
            found.difference,
            unit="ug/m3",
            factor=UGM3,
            source="regression by days, neighbours alike",
            level=0.95,
            basis=Basis.COMPUTED,
        ),
        "evidence": f"{found.days_before} days before, {found.days_after} after, {found.left_out} smoke days left out",
        "note": "The whole job with its fan use; it cannot hold apart what changed on the same day.",
    }


def _raw_row(proof: Proof) -> Document:
    before, after = proof.raw
    smoke = f"{proof.smoke_days} days of smoke outdoors stand on one side. " if proof.smoke_days else ""
    return {
        "question": "Plain mean before and after",
        "name": "plain before and after",
        "kind": "raw",
        "before": setting(before * UGM3, "ug/m3", "room series", Basis.FITTED) if np.isfinite(before) else None,
        "after": setting(after * UGM3, "ug/m3", "room series", Basis.FITTED) if np.isfinite(after) else None,
        "effect": None,
        "verdict": "not evidence",
        "note": f"{smoke}Weather, outdoor air and use differ between the two stretches, so this difference is not the work's.",
    }


def not_identified_document(fit: Fit) -> list[Document]:
    """Return the record's ``not_identified``."""
    merged: dict[tuple[str, str], list[str]] = {}
    for item in fit.not_identified:
        merged.setdefault((item.why, item.settle), []).append(item.quantity)
    return [{"what": why, "settle": settle, "keys": keys} for (why, settle), keys in merged.items()]
