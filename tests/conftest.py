"""Settings that every test shares."""

from hypothesis import HealthCheck, settings

# Two cores, shared: a slow example is not a fault. A failing one prints how to repeat it.
settings.register_profile(
    "rewire", deadline=None, print_blob=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("rewire")
