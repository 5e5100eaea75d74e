"""What fouls the air and by which path: one detector a question, each with the test that would refute it."""
