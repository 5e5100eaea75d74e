"""Steps from each schema of the store to the next, run when a store is opened."""
