"""fanrules."""
