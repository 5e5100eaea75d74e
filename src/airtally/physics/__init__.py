"""Pure cited functions, one subject a file: numbers in, numbers out, SI; no house, no clock, no files."""
