"""Flues: draft and cooling."""
