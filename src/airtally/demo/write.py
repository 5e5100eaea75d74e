"""Write the whole invented job into a folder."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from airtally.demo.layouts import write_logs
from airtally.demo.quirks import ALL_QUIRKS, Quirk, effective
from airtally.demo.simulate import make_world, run
from airtally.demo.streams import make_streams
from airtally.demo.survey_text import survey_text
from airtally.demo.truth import make_truth
from airtally.demo.visits_text import visits_text
from airtally.errors import InputError

TRUTH_FILE = ".truth.json"
INVENTED = """INVENTED DATA

This folder is a demo job made by a simulation. No such house, people, town or company exist, nobody
measured these numbers, and nothing here says anything about a real home or a real product.
"""


def write_demo(folder: Path, seed: int = 1, quirks: frozenset[Quirk] = ALL_QUIRKS, weeks: int = 10) -> None:
    """Write the invented demo job: survey, visits, eight logs, and the truth in a hidden file.

    Parameters
    ----------
    folder : Path
        Made if it is not there; files of the same names are written over.
    seed : int
        1 is the reference job; others move dates, sizes, emissions and sensor errors. The same seed, quirks
        and weeks give the same bytes.
    quirks : frozenset of Quirk
        What is planted.
    weeks : int
        Length of the job from its first Monday; the works are in the fifth week. [weeks]

    Raises
    ------
    InputError
        If ``weeks`` is not 1 to 10 or ``seed`` is negative.
    """
    if not 1 <= weeks <= 10:
        raise InputError(f"weeks must be 1 to 10; got {weeks}")
    if seed < 0:
        raise InputError(f"seed must not be negative; got {seed}")
    world = make_world(seed, effective(frozenset(quirks)), weeks)
    actual = run(world)
    folder.mkdir(parents=True, exist_ok=True)
    with ThreadPoolExecutor(1) as beside:  # the truth runs the house anew, which leaves the interpreter free to write
        truth = beside.submit(make_truth, world, actual)
        write_logs(folder, world, make_streams(world, actual))
    texts = {
        "survey.toml": survey_text(world),
        "visits.toml": visits_text(world),
        "INVENTED.txt": INVENTED,
        TRUTH_FILE: json.dumps(truth.result(), indent=1) + "\n",
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
