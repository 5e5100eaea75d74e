"""How a survey's sections and keys are described: form, unit, bounds, default with its source.

The reader, the page ``docs/survey.md`` and the list of what later stages read are all made from
these descriptions, so they cannot disagree.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, StrEnum

from airtally.units import Kind

COMMON_PRACTICE = "common practice, no source"
"""Marks a fact of the trade for which no publication is named."""


class Form(StrEnum):
    """What sort of TOML value a key takes."""

    ID = "id"
    TEXT = "text"
    CHOICE = "one of"
    CHOICES = "list of"
    FACT = "true or false"
    COUNT = "number"
    QUANTITY = "quantity"
    QUANTITIES = "three quantities"
    DATE = "date and time"
    DAYS = "list of dates"
    REFERENCE = "id of"
    TABLE = "table"


@dataclass(frozen=True, slots=True, kw_only=True)
class Default:
    """What is taken for a quantity that the survey leaves open, as a survey would write it."""

    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One key of a section.

    Attributes
    ----------
    key : str
        As written in the survey.
    form : Form
        Sort of value.
    meaning : str
        One line for the page.
    attribute : str
        Field of :mod:`airtally.house.parts` it fills (``"ReturnLeak.fraction"``); empty if only the reader uses it.
    kind : Kind or None
        Of a quantity.
    choices : type of enum, tuple of str or None
        Words a choice may be.
    refers_to : str
        Section whose ids a reference may name.
    or_words : tuple of str
        What a reference may name besides.
    or_refers_to : str
        Second section whose ids it may name.
    is_required : bool
        Without it the entry is set aside, or the survey cannot be used.
    default : Default or None
        For a quantity left out or missing.
    default_words : str
        How the default is found where it depends on other keys.
    spread : float
        Half width over value of a quantity written without an interval. [-]
    possible : str
        Range of what the quantity can be, as a survey would write it.
    """

    key: str
    form: Form
    meaning: str
    attribute: str = ""
    kind: Kind | None = None
    choices: type[Enum] | tuple[str, ...] | None = None
    refers_to: str = ""
    or_words: tuple[str, ...] = ()
    or_refers_to: str = ""
    is_required: bool = False
    default: Default | None = None
    default_words: str = ""
    spread: float = 0.0
    possible: str = ""

    @property
    def words(self) -> tuple[str, ...]:
        """Return the words a choice may be."""
        if self.choices is None:
            return ()
        return self.choices if isinstance(self.choices, tuple) else tuple(str(c.value) for c in self.choices)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One table, or list of tables, of the survey."""

    path: str
    meaning: str
    fields: tuple[Field, ...]
    is_repeated: bool = False
    may_repeat: bool = False
    """Written once or, when it changed, as a list."""

    def field(self, key: str) -> Field:
        """Return the description of a key."""
        return next(f for f in self.fields if f.key == key)

    @property
    def heading(self) -> str:
        """Return the TOML heading: ``[home]`` or ``[[zone]]``."""
        return f"[[{self.path}]]" if self.is_repeated else f"[{self.path}]"


def since_until(noun: str) -> tuple[Field, Field]:
    """Return the two dates that a part which came or went carries."""
    return (
        Field(
            key="since", form=Form.DATE, meaning="From when it was there; left out: always.", attribute=f"{noun}.since"
        ),
        Field(
            key="until",
            form=Form.DATE,
            meaning="First minute without it; left out: still there.",
            attribute=f"{noun}.until",
        ),
    )


def identity(noun: str) -> Field:
    """Return the key that names an entry; stable, short, unique in its section."""
    return Field(
        key="id",
        form=Form.ID,
        meaning="Short stable name, unique in its section.",
        attribute=f"{noun}.id",
        is_required=True,
    )
