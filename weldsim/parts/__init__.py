"""Parts: the physics of one thing each, a frozen dataclass that is its TOML table, and pure functions."""
