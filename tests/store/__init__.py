"""The store: nothing acknowledged is lost, and what is read back is what was kept."""
