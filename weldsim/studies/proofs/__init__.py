"""Reference circuits written as scenarios, run, and compared with numbers that come from elsewhere."""
