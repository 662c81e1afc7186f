"""Finished recordings: what a run is, how it is made, and how it is kept on disk."""
