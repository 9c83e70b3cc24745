"""How long tests wait for what must come, and how thoroughly they search.

No test says how fast something is: machines differ, and have other work. Only a fault
uses this time up.
"""

from hypothesis import HealthCheck, settings

LONG_S = 120.0
_forms = {"is long": False}


def choose_form(*, is_long: bool) -> None:
    """Say which form this run has, before any test is read."""
    _forms["is long"] = is_long
    settings.load_profile("long" if is_long else "short")


def in_form(short: int, long: int) -> int:
    """Return how many examples, trials or steps a test takes in this run."""
    return long if _forms["is long"] else short


def register_profiles() -> None:
    """Give each run the same examples, and each example all the time it needs.

    ``--hypothesis-profile search`` looks for new ones, as many as ``--long`` tries.
    """
    # A slow machine is no fault of what is tested.
    calm = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
    settings.register_profile("search", max_examples=200, **calm)
    settings.register_profile("long", max_examples=200, derandomize=True, **calm)
    settings.register_profile("short", max_examples=40, derandomize=True, **calm)
