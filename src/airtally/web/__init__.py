"""The face: pages over the store of jobs. HTTP in, pages out; nothing is computed here."""
