"""Draft of a flue by stage of its fire against house pressure, and single changes replayed."""
