"""Leaks of houses and ducts."""
