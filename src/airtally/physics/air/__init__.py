"""Air itself, moist and as a gas."""
