"""Ventilation asked for, in time and in sum."""
