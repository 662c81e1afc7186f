"""Settings of all tests: property tests draw anew every time, everywhere, and print what repeats a failure."""

from hypothesis import settings

# No deadline: the machines of continuous integration are shared, and time is judged by the benchmarks alone.
settings.register_profile("house", settings.get_profile("default"), deadline=None, derandomize=False, print_blob=True)
settings.load_profile("house")
