"""The pages, as a browser and as a script see them."""
