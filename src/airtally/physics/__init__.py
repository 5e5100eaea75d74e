"""Pure cited functions, a folder a subject: numbers in, numbers out, SI; no house, no clock, no files."""
