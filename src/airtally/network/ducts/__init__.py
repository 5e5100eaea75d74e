"""Blower, bypass hookup, in-duct sensor and duct heat: what the air handler and its ducts can bear."""
