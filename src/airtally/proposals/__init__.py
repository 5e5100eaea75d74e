"""What each measure would do: edits of the house, replayed on the latest weeks."""
