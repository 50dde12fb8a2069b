"""Settings that every test shares."""

from hypothesis import HealthCheck, settings

# Two cores, shared: a slow example is not a fault. A failing one prints how to repeat it.
settings.register_profile(
    "rewire", deadline=None, print_blob=True, suppress_health_check=[HealthCheck.too_slow]
)
# `make mutants`: the same examples for every mutant, and fewer.
settings.register_profile(
    "mutants", settings.get_profile("rewire"), derandomize=True, max_examples=25
)
settings.load_profile("rewire")
