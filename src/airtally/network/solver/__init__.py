"""The pressure-flow network itself: nouns, compiled Newton, refusals by name. It knows nothing of houses."""
