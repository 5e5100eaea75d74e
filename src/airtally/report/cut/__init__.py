"""The cut through the house: rooms, lanes and ribbons placed by rule for any house, drawn as SVG text."""
