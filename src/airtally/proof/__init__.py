"""Did it work: loss rates at equal conditions, the same days in the old house, days compared, pretended dates."""
