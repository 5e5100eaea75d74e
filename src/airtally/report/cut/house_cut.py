"""The cut through the house: its rooms, what comes in as ribbons, the mixed air, and where it all goes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum
from math import floor, log10
from typing import Any

from airtally.report import words
from airtally.report.account_rows import AccountRows, account_rows
from airtally.report.choices import phases_with_account
from airtally.report.cut.measures import PHONE, WIDE, Measures
from airtally.report.cut.plan import Plan, plan_of
from airtally.report.cut.rooms import HouseFacts, folded, house_facts
from airtally.report.cut.signs import earth
from airtally.report.cut.streams import MIXED, height_of, streams_of
from airtally.report.cut.strokes import ducts, names, ribbons, shell, words_inside
from airtally.report.drawing import INK_2, LEAF, Drawing
from airtally.report.hookup_svg import paragraph, path, sheet, words_at


class CutSheet(StrEnum):
    """For what the cut is laid out."""

    PHONE = "phone"
    """358 wide: rooms folded into one, names and figures in the table."""
    WIDE = "wide"
    """756 wide, so that the smallest word prints at 8.5 points across a page: each room, names and figures at the ribbons."""


MEASURES = {CutSheet.PHONE: PHONE, CutSheet.WIDE: WIDE}
PRINT_GROUND = "#FFFFFF"
NO_READINGS = "No readings yet: the survey alone cannot tell where particles come from."
EAVES = 82.0
"""Height of the eaves below the upper edge of the sheet. [px]"""


def house_cut(
    document: Mapping[str, Any],
    *,
    phase: str | None = None,
    sheet_kind: CutSheet = CutSheet.WIDE,
    ground: str = LEAF,
) -> Drawing:
    """Return the cut through the house of a record with the account of a phase.

    Parameters
    ----------
    document : mapping
        A record. Without an account the house is drawn alone and says so.
    phase : str, optional
        Id of a phase with an account; the latest where none is given.
    sheet_kind : CutSheet
    ground : str
        Colour of the sheet; white for print.

    Returns
    -------
    Drawing
        Its table holds the same lines under the same marks.

    Raises
    ------
    KeyError
        If the phase has no account.
    """
    measures = MEASURES[sheet_kind]
    rows = account_rows(document, phase)
    phases = dict(phases_with_account(document))
    chosen = phases[phase or list(phases)[-1]] if phases else None
    facts = house_facts(document, chosen)
    scale = _scale(document, rows, measures)
    streams = streams_of(rows, scale) if rows else ()
    plan = plan_of(folded(facts) if sheet_kind is CutSheet.PHONE else facts, streams, measures, EAVES)
    prefix = f"cut-{sheet_kind}"
    foot, height = _foot(plan, facts, rows, scale, is_invented=document["job"]["is_invented"])
    strokes = (
        earth(prefix),
        *shell(plan, prefix),
        *ducts(plan, facts),
        *ribbons(plan, prefix),
        *(names(plan)),
        *words_inside(plan, chosen, rows),
        *foot,
    )
    title = f"Cut through the house: {rows.phase}" if rows else "Cut through the house"
    sentence = _sentence(facts, rows)
    svg = sheet(strokes, width=measures.width, height=height, title=title, sentence=sentence, prefix=prefix)
    head, table = _table(facts, rows)
    return Drawing(svg=svg.replace(LEAF, ground), title=title, sentence=sentence, head=head, rows=table)


def _scale(document: Mapping[str, Any], rows: AccountRows | None, measures: Measures) -> float:
    """Return px per printed unit: one scale for all phases, so that their drawings can be laid side by side."""
    if rows is None:
        return 1.0
    most = 0.0
    for name, _ in phases_with_account(document):
        one = account_rows(document, name)
        if one is not None:
            streams = streams_of(one, rows.factor / one.factor)
            most = max(most, *(height_of(streams, is_entering=side) for side in (True, False)))
    return measures.mixed_height / most if most else 1.0


def _foot(
    plan: Plan, facts: HouseFacts, rows: AccountRows | None, scale: float, *, is_invented: bool
) -> tuple[list[str], float]:
    """Return the key below the house, and the height of the whole sheet."""
    m = plan.measures
    y = plan.bottom + 36.0
    strokes: list[str] = []
    texts = []
    if rows is None:
        texts.append(NO_READINGS)
    else:
        unit = words.unit_word(rows.unit)
        size = _round_size(0.22 * m.mixed_height / scale)
        high = size * scale
        strokes.append(path(f"M10,{y - 10:g}h16v{high:g}h-16z", width=0.8, fill=MIXED))
        strokes.append(words_at(32.0, y, f"{size:g} {unit}", size=13.0, weight=600))
        y += max(high - 10.0, 0.0) + 20.0
        texts.append(
            f"Width of a ribbon, measured upright: PM2.5 in {unit}. Colour: its source, until the air mixes at the black bar; grey: mixed. "
            f"Ticks: range, {words.chances(_level(rows))}. Dotted: zero or not known. Dashed: not assigned. "
            "From room to room: not known."
        )
        if plan.unplaced:
            texts.append(f"In which room is not surveyed: {words.joined(plan.unplaced)}.")
        if rows.difference:
            texts.append(rows.difference)
    if not facts.has_surveyed_floors and m.has_values:
        texts.append("Floors are taken from the kind of space, not surveyed. Not to scale.")
    if is_invented:
        texts.append("Invented numbers.")
    note = paragraph(10.0, y, m.width - 20.0, " ".join(texts), size=13.0, fill=INK_2)
    return [*strokes, *note.strokes], y + note.height + 2.0


def _level(rows: AccountRows) -> float:
    return float(rows.total.now["level"]) if rows.total.now else 0.90


def _round_size(size: float) -> float:
    """Return the largest 1, 2 or 5 times a power of ten that is not above a size."""
    power = 10.0 ** floor(log10(size))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= size * (1.0 + 1e-9))


def _sentence(facts: HouseFacts, rows: AccountRows | None) -> str:
    """Return what the drawing shows, for those who do not see it."""
    spaces = words.joined([space.name for space in facts.spaces])
    if rows is None:
        return f"{NO_READINGS} The house: {spaces}."
    unit = words.unit_word(rows.unit)

    def side(lines: Sequence[Any]) -> str:
        return ", ".join(f"{line.folio} {line.title} {rows.figure(line.now)}" for line in lines if line.now is not None)

    total = rows.figure(rows.total.now)
    return (
        f"{rows.phase}, PM2.5 in {unit}. Comes in {total}: {side(rows.entering)}. "
        f"Goes out, and stored {total}: {side(rows.leaving)}. The house: {spaces}."
    )


def _table(facts: HouseFacts, rows: AccountRows | None) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Return the table behind the drawing: the lines of the account, or the spaces where there is none."""
    if rows is None:
        return ("space", "kind"), tuple((space.name, space.kind) for space in facts.spaces)
    lines = [line for line in (*rows.entering, *rows.leaving) if line.now is not None]
    table = tuple((line.folio, line.title, rows.figure(line.now), rows.span(line.now)) for line in lines)
    return ("", "line", words.unit_word(rows.unit), "interval"), table
