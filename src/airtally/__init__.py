"""A closed account of where a house's particles come from, which way they travel and what removes them."""

__version__ = "0.1.0"
