"""The surveyed house: its nouns, the survey's reader and checks, and what stood when."""
