"""The visit's form: its steps, what each asks in this house, what its fields send and what becomes of it."""
