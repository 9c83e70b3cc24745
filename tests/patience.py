"""How long tests wait for what must come, and how thoroughly they search.

No test says how fast something is: machines differ, and others work on them meanwhile.
Only a fault uses this time up.
"""

from hypothesis import HealthCheck, settings

LONG_S = 120.0
_forms = {"is long": False}


def choose_form(*, is_long: bool) -> None:
    """Say which form this run has, before any test is read."""
    _forms["is long"] = is_long


def in_form(short: int, long: int) -> int:
    """Return how many examples, trials or steps a test takes in this run."""
    return long if _forms["is long"] else short


def settle_hypothesis() -> None:
    """Give each run the same examples, and each example all the time it needs.

    ``--hypothesis-profile search`` looks for new ones.
    """
    # A slow machine is no fault of what is tested.
    calm = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
    settings.register_profile("search", **calm)
    settings.register_profile("same", derandomize=True, **calm)
    settings.load_profile("same")
