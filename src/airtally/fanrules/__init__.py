"""Fan rules: candidates replayed in closed loop, on draws of the fit."""
