"""Pressures on a house that no fan makes."""
