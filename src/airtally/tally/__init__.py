"""tally."""
