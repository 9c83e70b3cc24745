"""How long tests wait for what must come, and how property tests are run.

No test says how fast something is: machines differ, and others work on them meanwhile.
Only a fault uses this time up.
"""

from hypothesis import HealthCheck, settings

LONG_S = 120.0


def settle_hypothesis() -> None:
    """Give each run the same examples, and each example all the time it needs.

    ``--hypothesis-profile search`` looks for new ones.
    """
    # A slow machine is no fault of what is tested.
    calm = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
    settings.register_profile("search", **calm)
    settings.register_profile("same", derandomize=True, **calm)
    settings.load_profile("same")
