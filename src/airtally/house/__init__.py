"""house."""
