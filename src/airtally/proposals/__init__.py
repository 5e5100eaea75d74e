"""proposals."""
