"""network."""
