"""Tests of the code itself: docstrings, names, habits, words, imports, and docs that must agree with it."""
