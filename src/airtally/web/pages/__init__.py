"""One module a page: what it reads from the store and how it answers."""
