"""Readings and a house become a Fit: loss rates, room series, events, and what stays open; direct tests beside it."""
