"""The invented demo houses as recovery runs: several zones, size bins and faulty sensors, through the whole job.

The demo's simulation shares no code with the account; its hidden truth is read only here and only after
the record was made.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.recovery.measure import Answer

from airtally.demo import ALL_QUIRKS, Quirk, write_demo
from airtally.jobs.run import run_job
from airtally.record.documents import JobRecord

FIRST_SEED = 701
SHARES = {
    "outdoor": ("outdoor",),
    "cooking": ("cooking",),
    "solid_fuel": ("solid_fuel",),
    "other": ("other", "resuspension"),
}
"""The record's shares and what of the simulation's own each stands for."""
JOB_SEED = 1


@dataclass(frozen=True)
class RichResult:
    """One demo house: answers beside the truth, and the verdict on each question."""

    answers: dict[str, Answer]
    verdicts: dict[str, str]


def rich_results(count: int, *, placebo: bool) -> Iterator[RichResult]:
    """Write, run and score demo jobs with the seeds from 701; ``placebo`` houses had no work done."""
    quirks = ALL_QUIRKS | {Quirk.NO_WORK} if placebo else ALL_QUIRKS
    for seed in range(FIRST_SEED, FIRST_SEED + count):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            write_demo(folder, seed=seed, quirks=quirks)
            record = run_job(folder, seed=JOB_SEED, progress=lambda _: None)
            assert isinstance(record, JobRecord)
            truth = json.loads((folder / ".truth.json").read_text(encoding="utf-8"))
        yield compare(record.document, truth)


def compare(record: dict[str, Any], truth: dict[str, Any]) -> RichResult:
    """Return the record's numbers beside the simulation's own."""
    left_open = {key for item in record["not_identified"] for key in item["keys"]}
    answers = {}
    for phase, real in truth["phases"].items():
        found = record["phases"].get(phase)
        if found is None:
            continue
        for fan in ("fan_off", "fan_on"):
            answers[f"loss, {fan.replace('_', ' ')}, {phase}"] = _answer(
                found["rates"][fan]["total"],
                real["rates_per_h"][fan]["total"],
                is_open=f"phases/{phase}/{fan}" in left_open,
            )
        answers[f"phase mean, {phase}"] = _answer(found["mean_pm25"], real["mean_pm25"]["occupied"])
        for name, parts in SHARES.items():
            part = found["source_share"].get(name)
            if part is not None:
                truth_of = sum(real["source_share"][one] for one in parts)
                answers[f"{name.replace('_', ' ')} share, {phase}"] = _answer(part, truth_of)
    for change, effect in record["effects"].items():
        if change in record["phases"] and "works" in truth.get("effects", {}):
            answers["effect of the works"] = _answer(effect["percent"], truth["effects"]["works"]["change_percent"])
    verdicts = {row["question"]: row["verdict"] for row in record["proof"]["rows"] if row["kind"] != "raw"}
    return RichResult(answers=answers, verdicts=verdicts)


def _answer(found: dict[str, Any], truth: float, *, is_open: bool = False) -> Answer:
    return Answer(
        truth=float(truth),
        middle=float(found["value"]),
        low=float(found["low"]),
        high=float(found["high"]),
        is_open=is_open,
    )
