"""Air that comes in by itself."""
