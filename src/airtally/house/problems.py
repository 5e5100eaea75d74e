"""Codes of the problems that a survey can have, each with its one-line meaning."""

from __future__ import annotations

SURVEY_UNREADABLE = "survey-unreadable"
SURVEY_NOT_TOML = "survey-not-toml"
SCHEMA_MISSING = "survey-schema-missing"
SCHEMA_OTHER = "survey-schema-other"
KEY_UNKNOWN = "survey-key-unknown"
KEY_MISSING = "survey-key-missing"
KEY_UNUSED = "survey-key-unused"
WRONG_FORM = "survey-wrong-form"
QUANTITY_UNREADABLE = "survey-quantity-unreadable"
QUANTITY_IMPOSSIBLE = "survey-quantity-impossible"
INTERVAL_CUT = "survey-interval-cut"
CHOICE_UNKNOWN = "survey-choice-unknown"
DATE_UNREADABLE = "survey-date-unreadable"
DATE_AMBIGUOUS = "survey-date-ambiguous"
DATE_NONEXISTENT = "survey-date-nonexistent"
DATES_REVERSED = "survey-dates-reversed"
DATES_OVERLAP = "survey-dates-overlap"
DATES_GAP = "survey-dates-gap"
DATE_OUTSIDE_LOGS = "survey-date-outside-logs"
TIME_ZONE_UNKNOWN = "survey-time-zone-unknown"
ID_REPEATED = "survey-id-repeated"
ID_UNUSABLE = "survey-id-unusable"
REFERENCE_UNKNOWN = "survey-reference-unknown"
PART_SET_ASIDE = "survey-part-set-aside"
PART_UNUSED = "survey-part-unused"
RETURN_LEAK_OPEN = "survey-return-leak-open"
TRIAL_DAY_TWICE = "survey-trial-day-twice"
RULE_SENSOR = "survey-rule-sensor"
NO_ROOMS = "survey-no-rooms"
VOLUME_AREA_DIFFER = "survey-volume-area-differ"
AREAS_DIFFER = "survey-areas-differ"
FLOW_FAR_FROM_NOMINAL = "survey-flow-far-from-nominal"
STATIC_TOO_LOW = "survey-static-too-low"
SHARES_TOO_LARGE = "survey-shares-too-large"
THRESHOLDS_REVERSED = "survey-thresholds-reversed"
LOG_FILE_MISSING = "survey-log-file-missing"
LOG_FILE_OUTSIDE = "survey-log-file-outside"
CHANGES_OUT_OF_ORDER = "survey-changes-out-of-order"
DEFAULTS_USED = "survey-defaults-used"
QUANTITIES_ABSENT = "survey-quantities-absent"

PROBLEMS: dict[str, str] = {
    SURVEY_UNREADABLE: "The survey file is absent, cannot be opened, or is not text in UTF-8.",
    SURVEY_NOT_TOML: "The survey breaks the rules of TOML at the line named; nothing after it could be read.",
    SCHEMA_MISSING: "The survey does not say which edition of its layout it follows.",
    SCHEMA_OTHER: "The survey follows an older or a newer layout than this program reads.",
    KEY_UNKNOWN: "A key is not one of the section's keys, often a slip of the pen; its value is not used.",
    KEY_MISSING: "A key that has no default is absent or without a number.",
    KEY_UNUSED: "A key has a meaning elsewhere but none for this part; its value is not used.",
    WRONG_FORM: "A value has the wrong form: a number for text, one entry for a list, and the like.",
    QUANTITY_UNREADABLE: "A quantity cannot be read: no unit, a wrong unit, or an interval without its value.",
    QUANTITY_IMPOSSIBLE: "A quantity is outside what such a thing can be; it is not used.",
    INTERVAL_CUT: "An interval reaches outside what the quantity can be and was cut there.",
    CHOICE_UNKNOWN: "A word is not one of those this key takes.",
    DATE_UNREADABLE: "A date or time cannot be read.",
    DATE_AMBIGUOUS: "A local time occurs twice, at the end of daylight saving; the first was taken.",
    DATE_NONEXISTENT: "A local time does not exist, at the start of daylight saving; the clock before it was taken.",
    DATES_REVERSED: "A part ends before it begins.",
    DATES_OVERLAP: "Two parts that exclude each other are there at the same time.",
    DATES_GAP: "Between two entries of the same part there is a time without one.",
    DATE_OUTSIDE_LOGS: "A dated change or diary entry lies outside the time that the logs cover.",
    TIME_ZONE_UNKNOWN: "The time zone is not in the time-zone database.",
    ID_REPEATED: "Two entries of one sort have the same id; the later one is set aside.",
    ID_UNUSABLE: "An id holds characters that ids may not have, or is a reserved word.",
    REFERENCE_UNKNOWN: "An entry names another entry that does not exist.",
    PART_SET_ASIDE: "An entry lacks what it cannot do without and is not used.",
    PART_UNUSED: "An entry is complete, but nothing refers to it.",
    RETURN_LEAK_OPEN: "There is a garage, crawlspace or attic but no word on return leaks; none is assumed.",
    TRIAL_DAY_TWICE: "A day of the trial is listed twice, or as both on and off; it is not used.",
    RULE_SENSOR: "A fan rule watches an instrument that does not measure PM2.5.",
    NO_ROOMS: "No zone is lived in, so there is no room air to account for.",
    VOLUME_AREA_DIFFER: "A zone's volume and its floor area times height differ by more than 25 %.",
    AREAS_DIFFER: "The envelope's floor area and the sum over the zones differ by more than 25 %.",
    FLOW_FAR_FROM_NOMINAL: "A fan flow is far from what the equipment's capacity calls for.",
    STATIC_TOO_LOW: "A total external static pressure is lower than a ducted system has.",
    SHARES_TOO_LARGE: "Shares of one flow add up to more than the flow.",
    THRESHOLDS_REVERSED: "A fan rule goes off above the level at which it goes on.",
    LOG_FILE_MISSING: "A log file that the survey names is not in the job's folder.",
    LOG_FILE_OUTSIDE: "A log file's name points outside the job's folder; it is not opened.",
    CHANGES_OUT_OF_ORDER: "Dated changes overlap or are not in order of time.",
    DEFAULTS_USED: "Lists the quantities the survey leaves open, with the default and wide interval taken for each.",
    QUANTITIES_ABSENT: "Lists the quantities left open for which no default exists; results that need them say so.",
}
"""Meaning of each code; ``docs/problems.md`` is generated from it."""
