"""Settings of all tests: property tests draw anew every time, everywhere, and print what repeats a failure; Ctrl-C is
heard, also by commands that are started, where whoever runs the tests in the background has it ignored; and a study
that is not told by how many works alone, since the tests themselves are shared out to all cores.
"""

import signal

from hypothesis import settings

from weldsim.runs import crew

signal.signal(signal.SIGINT, signal.default_int_handler)
crew.cores = lambda: 1

# No deadline: the machines of continuous integration are shared, and time is judged by the benchmarks alone.
settings.register_profile("house", settings.get_profile("default"), deadline=None, derandomize=False, print_blob=True)
settings.load_profile("house")
