"""Timed runs of airtally on the machine at hand; no tests."""
