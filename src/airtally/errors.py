"""The one base error and the record in which doubts about a user's data travel."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class AirtallyError(Exception):
    """Base of every error that airtally raises for misuse or for numbers that failed."""


class InputError(AirtallyError):
    """A caller passed a value that the function cannot take."""


class FitError(AirtallyError):
    """The fit could not be made; the text says which data are missing."""


class Severity(StrEnum):
    """How much a problem matters."""

    FATAL = "fatal"
    """Nothing can be computed from this input."""
    WARNING = "warning"
    """Something was not used, or was used with a wider interval."""
    NOTE = "note"
    """Worth knowing; changes no number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One doubt about the user's data: what was found and where, what is wanted, what to do.

    Attributes
    ----------
    code : str
        Stable short name with a page in ``docs/problems.md``.
    where : str
        File and line (``"kitchen.csv line 212"``) or key (``"survey.toml, zones[2].volume"``).
    found, wanted, remedy : str
        Plain words in the user's units.
    severity : Severity
        Whether the rest can still be computed.
    """

    code: str
    where: str
    found: str
    wanted: str
    remedy: str
    severity: Severity = Severity.WARNING

    def sentence(self) -> str:
        """Return the problem as one line for a terminal or a page."""
        return f"{self.where}: {self.found}; wanted: {self.wanted}. {self.remedy}"


def require_positive(**values: object) -> None:
    """Raise InputError naming the first argument that holds a number not above zero.

    NaN passes: it travels through to the result.
    """
    import numpy as np  # imported late so that this file stays free for the command line's help

    for name, value in values.items():
        if isinstance(value, float) and value > 0.0:
            continue  # single numbers are most of what comes here, and an array of one costs ten times as much
        array = np.asarray(value, dtype=float)
        if np.any(array <= 0.0):
            raise InputError(f"{name} must be above zero; the lowest given is {np.nanmin(array):g}")
