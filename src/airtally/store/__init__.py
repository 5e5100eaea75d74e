"""The database of jobs: one SQLite file a company, every edit a revision, photos in a folder beside it."""
