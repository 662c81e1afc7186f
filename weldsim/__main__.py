"""``python -m weldsim`` is the same as the command ``weldsim``."""

from weldsim.cli.main import main

if __name__ == "__main__":
    raise SystemExit(main())
