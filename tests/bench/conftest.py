"""Benches of libraries that are not installed are not looked at."""

from importlib.util import find_spec

collect_ignore = [] if find_spec("numbalsoda") else ["compiled_lsoda.py"]
