"""The spine: each of the user's jobs as one straight function."""
