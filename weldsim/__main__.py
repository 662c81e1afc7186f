"""``python -m weldsim`` is the same as the command ``weldsim``."""

from weldsim.cli.entry import start

if __name__ == "__main__":
    raise SystemExit(start())
