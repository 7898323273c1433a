"""One profile for all property tests: the same examples in every run."""

from hypothesis import settings

settings.register_profile("clothpath", derandomize=True, deadline=None, max_examples=50)
settings.load_profile("clothpath")
