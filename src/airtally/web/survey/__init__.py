"""The survey's form: where its fields stand, how they are drawn, what they send and what becomes of it."""
