"""Ducts: sections, friction, fittings, heat, measuring in them."""
