"""A whole job on a folder."""

from __future__ import annotations

from pathlib import Path

from airtally.errors import Problem
from airtally.jobs.driveway import driveway_answers
from airtally.jobs.inputs import Progress, read_inputs
from airtally.network.answers import pressure_answers
from airtally.readings.kept import KeptLogs
from airtally.record.assemble import Provenance, assemble
from airtally.record.documents import JobRecord
from airtally.safety.burns import fires_tested


def run_job(
    folder: Path, *, seed: int, progress: Progress, kept: KeptLogs | None = None
) -> JobRecord | tuple[Problem, ...]:
    """Run the whole job on a folder.

    Parameters
    ----------
    folder : Path
        Holds ``survey.toml``, ``visits.toml`` (optional) and the logs that the survey names.
    seed : int
        Seeds every draw; the record is a pure function of the files, the version and the seed.
    progress : callable
        Told what is being done.
    kept : KeptLogs or None
        Where logs that were read before are looked for; the record is the same without.

    Returns
    -------
    record : JobRecord, or the problems of a survey that cannot be used
    """
    inputs = read_inputs(folder, progress, kept)
    if inputs.is_fatal:
        return inputs.problems
    progress("checking gates, carbon monoxide and pressures")
    tested = fires_tested(inputs.house, inputs.visits, inputs.log)
    answers = pressure_answers(inputs.house, inputs.visits, tested=tested)
    sections, proposals, problems = driveway_answers(inputs, answers)
    draws = 0
    if inputs.log.time.size:
        from airtally.jobs.fitted import answers_of_logs  # late: a job without logs starts in a blink

        found, more, draws = answers_of_logs(inputs, answers, proposals, seed=seed, progress=progress)
        sections |= found
        problems += more
    return assemble(
        inputs.house,
        inputs.log,
        inputs.phases,
        inputs.problems + problems,
        Provenance(seed=seed, digests=inputs.digests, draws=draws),
        sections,
    )
