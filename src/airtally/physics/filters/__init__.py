"""Filters and cleaners: efficiency, clean air, loops, pressure drop, loading."""
