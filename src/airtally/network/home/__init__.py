"""A surveyed house as a network: unknowns with priors, gauges as equations, states, works, worst cases."""
