"""One question per file: ``ask(scenario, ...)`` gives an ``Answer``."""
