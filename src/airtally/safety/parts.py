"""The nouns of the safety room: findings, limits they were held against, blocked forms, restrictions, the verdict."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from airtally.errors import Problem
from airtally.estimates import Estimate
from airtally.visits.pair import NotRetested
from airtally.visits.parts import Answer


class Grade(StrEnum):
    """What a finding does to the hand-over while it is not done."""

    STOP = "do not hand over"
    RESTRICT = "hand over with restrictions"
    REFER = "refer to others"
    NOTE = "worth knowing"


class Standing(StrEnum):
    """Where a finding stands; only a reading moves it to done."""

    OPEN = "open"
    UNKNOWN = "unknown"
    DONE = "done"


class HandOver(StrEnum):
    """The verdict of a visit's end."""

    DO_NOT = "do not hand over"
    WITH_RESTRICTIONS = "hand over with restrictions"
    HAND_OVER = "hand over"
    NOT_ASSESSED = "not assessed"
    """No test-out was recorded, and nothing that was read forbids or restricts."""


class Topic(StrEnum):
    """Topics of the standing cautions."""

    COMBUSTION = "combustion"
    CARBON_MONOXIDE = "carbon monoxide alarms"
    FIRE = "smoke and fire"
    ELECTRICITY = "electricity"
    REFRIGERANT = "refrigerant"
    HAZARDOUS_MATERIALS = "asbestos, vermiculite, lead, mould"
    RADON = "radon"
    ENTRY = "crawlspace and attic"
    PERMITS = "permits and codes"
    DATA = "data"


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitComparison:
    """A figure held against one published limit.

    Attributes
    ----------
    what : str
        What was compared, with its averaging time.
    value : Estimate
        The figure, in SI.
    limit : float
        The limit in the same unit.
    printed, edition, jurisdiction, source : str
        The limit as its document shows it, which edition, whose, and its key in ``docs/references.md``.
    basis : str
        ``read`` or ``from memory``; what is from memory is to be looked up before it counts as a requirement.
    is_crossed : bool or None
        None where the interval straddles the limit.
    governs : bool
        Whether this is the strictest of the limits that apply.
    status : str
        Where the limit stands today: ``current``, ``dropped by a later edition`` ...
    sense : str
        ``at most`` or ``at least``.
    """

    what: str
    value: Estimate
    limit: float
    printed: str
    edition: str
    jurisdiction: str
    source: str
    basis: str
    is_crossed: bool | None
    governs: bool = False
    status: str = "current"
    sense: str = "at most"


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyFinding:
    """One thing found, or one thing that was not tested.

    Attributes
    ----------
    id : str
        Stable: code and place.
    code : str
        A key of :data:`airtally.safety.problems.FINDINGS`.
    title : str
        A line without numbers.
    sentence : str
        What was found, with slots ``{name}`` for ``figures`` and ``{start}``; fill it with
        :func:`airtally.safety.words.fill`.
    figures : tuple of (str, Estimate)
        Numbers of the sentence, in SI.
    grade, standing : Grade, Standing
        What it does to the hand-over, and where it stands.
    place : str
        Zone, appliance or device.
    start, end : float or None
        When it was. [s, POSIX UTC]
    limits : tuple of LimitComparison
        What it was held against.
    evidence : tuple of str
        What speaks for it, in words.
    action : str
        What to do.
    lifted_by : str
        The reading that lifts it; empty where nothing is blocked.
    done_on, done_by : float or None, str
        When [s, POSIX UTC] and by which role it was lifted.
    topic : Topic
        Which standing caution goes with it.
    """

    id: str
    code: str
    title: str
    sentence: str
    grade: Grade
    standing: Standing
    place: str
    action: str
    topic: Topic
    figures: tuple[tuple[str, Estimate], ...] = ()
    start: float | None = None
    end: float | None = None
    limits: tuple[LimitComparison, ...] = ()
    evidence: tuple[str, ...] = ()
    lifted_by: str = ""
    done_on: float | None = None
    done_by: str = ""

    @property
    def is_open(self) -> bool:
        """Return whether it still counts against the hand-over."""
        return self.standing is not Standing.DONE


@dataclass(frozen=True, slots=True, kw_only=True)
class GateAnswer:
    """The newest answer to a gate, and the visit that gave it (empty if never asked)."""

    gate: str
    question: str
    answer: Answer
    visit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockedForm:
    """A form that may not be filled in, why, and which answer or reading lifts the block."""

    form: str
    because: str
    do: str
    lifted_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Restriction:
    """A rule for the people in the house, in the imperative. ``because`` names the findings it rests on."""

    rule: str
    because: tuple[str, ...]
    lifted_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A standing text on one topic."""

    topic: Topic
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outage:
    """A time in which a CO or spill logger gave nothing. Times [s, POSIX UTC]."""

    placement: str
    streams: tuple[str, ...]
    start: float
    end: float
    is_at_the_end: bool = False

    @property
    def duration(self) -> float:
        """Return how long it lasted [s]."""
        return self.end - self.start


class StepState(StrEnum):
    """Where a step stands on the newest visit that tested the zone."""

    DONE = "done"
    NOT_DONE = "not done"
    OUT_OF_ORDER = "done, out of order"
    ORDER_NOT_RECORDED = "done, order not recorded"
    NOT_NEEDED = "not needed"


@dataclass(frozen=True, slots=True, kw_only=True)
class SequenceStep:
    """One step. ``what`` says it in the imperative, ``key`` and ``place`` name the reading or check it asks for."""

    what: str
    key: str
    place: str
    state: StepState


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneSequence:
    """The test of one appliance zone.

    Attributes
    ----------
    zone : str
        The zone.
    visit : str
        The newest visit that tested it, empty if none.
    firing_order : tuple of str
        Appliances by rising heat output.
    order_not_known : tuple of str
        Appliances whose output nobody read.
    steps : tuple of SequenceStep
        In the order in which they are done.
    """

    zone: str
    visit: str
    firing_order: tuple[str, ...]
    order_not_known: tuple[str, ...]
    steps: tuple[SequenceStep, ...]

    @property
    def next_step(self) -> SequenceStep | None:
        """Return the first step that is not done."""
        return next((one for one in self.steps if one.state is StepState.NOT_DONE), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyVerdict:
    """Everything the safety room has to say about a job; needs no fit and no particle reading.

    ``verdict`` with its ``reasons`` stands first on every page. ``was_checked`` says what was held against which
    limit, ``not_checked`` what nobody tested; neither is ever a promise.
    """

    verdict: HandOver
    reasons: tuple[str, ...]
    gates: tuple[GateAnswer, ...]
    blocked_forms: tuple[BlockedForm, ...]
    findings: tuple[SafetyFinding, ...]
    restrictions: tuple[Restriction, ...]
    not_retested: tuple[NotRetested, ...]
    outages: tuple[Outage, ...]
    was_checked: tuple[str, ...]
    not_checked: tuple[str, ...]
    cautions: tuple[Caution, ...]
    problems: tuple[Problem, ...] = ()
    sequences: tuple[ZoneSequence, ...] = ()

    def find(self, code: str) -> tuple[SafetyFinding, ...]:
        """Return the findings of a code."""
        return tuple(finding for finding in self.findings if finding.code == code)
