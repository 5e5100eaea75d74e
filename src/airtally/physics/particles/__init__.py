"""Particles: in a room, in a sensor, in the index."""
