"""One table of the survey while it is read: values out, problems and defaults gathered beside.

Nothing here raises on a user's data. A value that cannot be used is reported and treated as left
out; an entry that lacks a required key is marked ``is_broken`` and its builder sets it aside.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from enum import Enum
from typing import Any, TypeVar

from airtally.errors import Severity
from airtally.estimates import Estimate, Missing
from airtally.house import problems as code
from airtally.house.defaults import default_estimate
from airtally.house.fields import Default, Field, Section
from airtally.house.gathering import Gathering, listed, near, possible_range, read_bounded, show, wanted_by
from airtally.house.moments import MomentTextError, read_moment
from airtally.units import Kind, shown_text

Word = TypeVar("Word", bound=Enum)
ID = re.compile(r"\w[\w .-]{0,59}")


class Entry:
    """One table of a section.

    Parameters
    ----------
    section : Section
        Which keys it may have.
    table : mapping
        As TOML gave it.
    where : str
        Key path for messages: ``"zone[main]"``.
    gathering : Gathering
        Takes problems and defaults.
    severity : Severity
        Of a missing required key.
    others : tuple of str
        Further keys the table may hold: its sub-sections.
    """

    def __init__(
        self,
        section: Section,
        table: Mapping[str, Any],
        where: str,
        gathering: Gathering,
        *,
        severity: Severity = Severity.WARNING,
        others: tuple[str, ...] = (),
    ) -> None:
        self.section = section
        self.table = table
        self.where = where
        self.gathering = gathering
        self.severity = severity
        self.is_broken = False
        known = [f.key for f in section.fields] + list(others)
        for key in table:
            if key not in known:
                gathering.add(
                    code.KEY_UNKNOWN,
                    self.path(key),
                    f"{section.heading} has no key of this name",
                    f"one of {listed(known)}",
                    near(key, known) or "Take it out, or turn it into a comment.",
                )

    def path(self, key: str) -> str:
        """Return the key path of one of its keys."""
        return f"{self.where}.{shown_text(key)}"

    def problem(
        self, name: str, key: str, found: str, wanted: str, remedy: str, severity: Severity = Severity.WARNING
    ) -> None:
        """Note a problem at one of its keys."""
        self.gathering.add(name, self.path(key) if key else self.where, found, wanted, remedy, severity)

    def set_aside(self) -> None:
        """Report that the whole entry is not used."""
        self.problem(
            code.PART_SET_ASIDE,
            "",
            "this entry is not used",
            "the keys named in the other problems of this entry",
            "Complete it, or take it out.",
            self.severity,
        )

    def has(self, key: str) -> bool:
        """Return whether a key is written."""
        return key in self.table

    def unused(self, key: str, why: str) -> None:
        """Report a key that is written but has no meaning for this entry."""
        if key in self.table:
            self.problem(
                code.KEY_UNUSED,
                key,
                "this key is not used here",
                why,
                "Take it out, or correct the other key.",
                Severity.NOTE,
            )

    def _missing(self, field_: Field) -> None:
        """Mark an entry whose required key has no usable value; report it unless its value was reported already."""
        self.is_broken = True
        if self.has(field_.key) and not self._is_open(self.table[field_.key]):
            return
        self.problem(
            code.KEY_MISSING,
            field_.key,
            "nothing usable is written",
            wanted_by(field_, self.gathering.currency),
            f"Write {field_.key}: {field_.meaning[0].lower()}{field_.meaning[1:]}",
            self.severity,
        )

    @staticmethod
    def _is_open(value: object) -> bool:
        """Return whether a written value is blank or one of the three words for a missing number."""
        return isinstance(value, str) and value.strip().casefold() in ("", *Missing)

    def _wrong(self, field_: Field, value: object, remedy: str = "") -> None:
        """Report a value of the wrong form."""
        self.problem(
            code.WRONG_FORM,
            field_.key,
            f"{show(value)} is written",
            wanted_by(field_, self.gathering.currency),
            remedy or "Write it as the example in docs/survey.md does.",
            self.severity if field_.is_required else Severity.WARNING,
        )

    def text(self, key: str, otherwise: str = "") -> str:
        """Return a line of text."""
        described = self.section.field(key)
        value = self.table.get(key)
        if isinstance(value, str) and value.strip():
            return value.strip()
        if value is not None and not isinstance(value, str):
            self._wrong(described, value, "Put it in quotation marks.")
        if described.is_required:
            self._missing(described)
        return otherwise

    def id(self, reserved: tuple[str, ...] = ()) -> str:
        """Return the entry's id; unusable ones break the entry."""
        value = self.text("id")
        if value and (not ID.fullmatch(value) or value in reserved):
            self.is_broken = True
            self.problem(
                code.ID_UNUSABLE,
                "id",
                f"{show(value)} cannot be an id",
                f"letters, digits, spaces, points, dashes; not {listed(reserved) if reserved else 'longer than 60'}",
                "Choose another; the longer text may go into name.",
                self.severity,
            )
        return value

    def word(self, key: str, choices: type[Word], otherwise: Word) -> Word:
        """Return one of an enum's words."""
        found = self._choice(key)
        return otherwise if found is None else choices(found)

    def choice(self, key: str, otherwise: str = "") -> str:
        """Return one of the words that a key takes."""
        return self._choice(key) or otherwise

    def _choice(self, key: str) -> str | None:
        """Return a choice as written in its list, or None where it cannot be used."""
        described = self.section.field(key)
        value = self.table.get(key)
        if isinstance(value, str):
            plain = " ".join(value.split()).casefold()
            for known in described.words:
                if known.casefold() == plain:
                    return known
            self._unknown_word(described, value)
        elif value is not None:
            self._wrong(described, value)
        if described.is_required:
            self._missing(described)
        return None

    def _unknown_word(self, described: Field, value: str) -> None:
        """Report a word that a key does not take."""
        self.problem(
            code.CHOICE_UNKNOWN,
            described.key,
            f"{show(value)} is not a word this key takes",
            f"one of {', '.join(described.words)}",
            near(value, described.words) or "Choose the nearest in meaning.",
            self.severity if described.is_required else Severity.WARNING,
        )

    def words(self, key: str, choices: type[Word]) -> tuple[Word, ...]:
        """Return a list of an enum's words, each once."""
        described = self.section.field(key)
        value = self.table.get(key)
        found: dict[Word, None] = {}
        if value is not None and not isinstance(value, (list, str)):
            self._wrong(described, value)
        for item in value if isinstance(value, list) else [value] if isinstance(value, str) else []:
            plain = item.strip().casefold() if isinstance(item, str) else None
            if plain is None:
                self._wrong(described, item)
            elif plain in described.words:
                found[choices(plain)] = None
            else:
                self._unknown_word(described, str(item))
        if not found and described.is_required:
            self._missing(described)
        return tuple(found)

    def fact(self, key: str, otherwise: bool = False) -> bool:
        """Return true or false."""
        value = self.table.get(key)
        if isinstance(value, bool):
            return value
        if value is not None:
            self._wrong(self.section.field(key), value, "Write true or false, without quotation marks.")
        return otherwise

    def count(self, key: str, otherwise: float | None = None, *, is_whole: bool = False) -> float | None:
        """Return a plain number inside its bounds."""
        described = self.section.field(key)
        value = self.table.get(key)
        if value is not None and (isinstance(value, bool) or not isinstance(value, (int, float))):
            self._wrong(described, value, "Write a plain number, without quotation marks.")
        elif value is not None and (is_whole and value != value // 1):
            self._wrong(described, value, "Write a whole number.")
        elif value is not None:
            low, high = possible_range(described, self.gathering.currency)
            if low <= value <= high:  # false for NaN, and exact for whole numbers too large for a float
                return float(value)
            self.problem(
                code.QUANTITY_IMPOSSIBLE, key, f"{show(value)} is not possible", described.possible, "Check the number."
            )
        if described.is_required:
            self._missing(described)
        return otherwise

    def quantity(self, key: str, default: Default | Estimate | None = None) -> Estimate | None:
        """Return a quantity, its default, or None where it has none; problems and defaults are noted."""
        described = self.section.field(key)
        found = self.written(key)
        if found is not None:
            return found
        default = default or described.default
        kind = described.kind or Kind.PURE
        if default is not None:
            estimate = default if isinstance(default, Estimate) else default_estimate(default, kind)
            self.gathering.took_default(self.path(key), estimate, kind)
            return estimate
        if described.is_required:
            self._missing(described)
        else:
            self.gathering.absent.append(self.path(key))
        return None

    def written(self, key: str) -> Estimate | None:
        """Return a quantity as written, or None where it is left out, missing or unusable."""
        value = self.table.get(key)
        return None if value is None else self._read(self.section.field(key), value, self.path(key))

    def three(self, key: str) -> tuple[Estimate, Estimate, Estimate] | None:
        """Return three quantities, or None where they are left out, missing or unusable."""
        described = self.section.field(key)
        value = self.table.get(key)
        if isinstance(value, list) and len(value) == 3:
            found = [self._read(described, item, f"{self.path(key)}[{i + 1}]") for i, item in enumerate(value)]
            first, second, third = found
            if first is not None and second is not None and third is not None:
                return first, second, third
        elif isinstance(value, str) and value.strip().casefold() in tuple(Missing):
            return None
        elif value is not None:
            self._wrong(described, value, 'Write three shares: ["15 %", "45 %", "75 %"].')
        return None

    def _read(self, described: Field, value: object, where: str) -> Estimate | None:
        """Return one quantity inside its bounds, or None."""
        kind = described.kind or Kind.PURE
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            self._wrong(described, value)
            return None
        text = value if isinstance(value, str) else show(value)
        return read_bounded(text, described, kind, where, self.gathering)

    def instant(self, key: str, otherwise: float | None = None) -> float | None:
        """Return an instant. [s, POSIX UTC]."""
        described = self.section.field(key)
        value = self.table.get(key)
        if value is not None:
            try:
                moment = read_moment(value, self.gathering.zone)
            except MomentTextError as doubt:
                self.problem(code.DATE_UNREADABLE, key, f"{show(value)} {doubt}", wanted_by(described), "Check it.")
            else:
                self._note_moment(key, value, is_ambiguous=moment.is_ambiguous, is_nonexistent=moment.is_nonexistent)
                return moment.time
        if described.is_required:
            self._missing(described)
        return otherwise

    def _note_moment(self, key: str, value: object, *, is_ambiguous: bool, is_nonexistent: bool) -> None:
        """Report a local time that occurs twice or never."""
        remedy = 'Add the offset, as in "2025-11-02 01:30-06:00".'
        wanted = "a time that occurs once"
        if is_ambiguous:
            self.problem(
                code.DATE_AMBIGUOUS,
                key,
                f"{show(value)} occurs twice; the first is taken",
                wanted,
                remedy,
                Severity.NOTE,
            )
        if is_nonexistent:
            self.problem(
                code.DATE_NONEXISTENT,
                key,
                f"{show(value)} does not exist on local clocks",
                wanted,
                remedy,
                Severity.NOTE,
            )

    def dates(self, always: float, still: float) -> tuple[float, float]:
        """Return since and until; a part that ends before it begins is broken. [s, POSIX UTC]."""
        since, until = self.instant("since", always), self.instant("until", still)
        since = always if since is None else since
        until = still if until is None else until
        if until <= since:
            self.is_broken = True
            self.problem(
                code.DATES_REVERSED, "until", "it ends before it begins", "until later than since", "Check both dates."
            )
        return since, until

    def reference(self, key: str, known: Iterable[str], otherwise: str | None = None) -> str | None:
        """Return the id of another entry; an unknown one breaks the entry."""
        described = self.section.field(key)
        ids = list(known)
        value = self.table.get(key)
        if isinstance(value, str) and value.strip() in ids:
            return value.strip()
        if isinstance(value, str) and value.strip():
            self.is_broken = True
            self.problem(
                code.REFERENCE_UNKNOWN,
                key,
                f"there is no {described.refers_to} {show(value)}",
                f"one of {listed(ids)}",
                near(value, ids) or f"Correct it, or add the {described.refers_to}.",
            )
            return otherwise
        if value is not None:
            self._wrong(described, value)
        if described.is_required:
            self._missing(described)
        return otherwise
