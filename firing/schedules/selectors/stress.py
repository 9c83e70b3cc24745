"""The studio's glass and kilns as the stress model's values, and designs cached for a
while.

Every design is requested here, and its cache key is made here; `stress_words` says what
a design means.
"""

import logging
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256

from django.core.cache import caches
from redis.exceptions import RedisError

from firing.models import FiringKind
from firing.physics.designing import programmes
from firing.physics.designing.band import Uncertainty
from firing.physics.designing.design import Design, design
from firing.physics.designing.programmes import ProcessHold
from firing.physics.designing.request import Controller, DesignRequest, Kind
from firing.physics.glass.families import quoted_above_k
from firing.physics.limits import DEFAULT_LIMITS, Limits
from firing.physics.refusals import Refusal
from firing.physics.schedule import PhysicsProblem
from firing.planning.problem import practice
from firing.schedules.selectors.evenness import across_of
from firing.schedules.selectors.physics_slabs import boundary_of, physics_glass
from firing.schedules.selectors.programmes import kiln_model
from studio.models import Glass, Kiln
from studio.units import TemperatureUnit

log = logging.getLogger(__name__)

# Raise this number whenever the engine gives other results for the same request or
# readings: designs, what-ifs and verdicts are kept under it.
ENGINE = 7
# Raise this when the engine's own values change their parts or their module, so that
# old ones are not read.
SHAPE = 7
KEPT_S = 30 * 24 * 3600
# Shared by web server and worker, and kept over a restart.
STORE = "computed"

# Heating a slab that is in tension may add at least this share of the limit.
LEAST_SHARE = 0.1

Told = Callable[[int], None]

DAMMED_WORDS = (
    "Dammed on a shelf: heat passes through the top only, by radiation and still air."
)
OPEN_WORDS = (
    "No dams: heat passes through top and bottom, by radiation and still air. A slab "
    "flat on a thick shelf is closer to one with dams: choose dams then, which is the "
    "slower case."
)


def controller_of(kiln: Kiln) -> Controller:
    """Return what can be typed into a kiln's controller."""
    return Controller(
        unit=TemperatureUnit(kiln.controller_unit),
        segments_available=kiln.controller_segments,
        slowest_c_per_h=kiln.slowest_rate_c_per_h,
        fastest_c_per_h=kiln.fastest_rate_c_per_h,
        rate_step=kiln.rate_step,
    )


def uncertainty_of(glass: Glass, kiln: Kiln) -> Uncertainty:
    """Return what bands of a glass in a kiln are over.

    It depends on how well the thermocouple is known, and on whether the annealing point
    is the maker's own: the family's may be another that is quoted for it.
    """
    sure = Uncertainty(thermocouple_k=kiln.offset_uncertainty_k)
    above_k = quoted_above_k(glass.family)
    if glass.annealing_point_c is not None or not above_k:
        return sure
    return replace(sure, annealing_point_above_k=sure.annealing_point_k + above_k)


def faces_words(*, is_dammed: bool) -> str:
    """Say which faces heat passes through."""
    return DAMMED_WORDS if is_dammed else OPEN_WORDS


def process_of(kind: str, glass: Glass) -> ProcessHold | None:
    """Return the hottest part by the glass's own data; none means common practice."""
    if kind in (FiringKind.FULL_FUSE, FiringKind.TEST):
        return ProcessHold(
            temperature_c=glass.full_fuse_c, hold_s=programmes.FULL_FUSE_HOLD_S
        )
    if kind == FiringKind.ENAMEL:
        return ProcessHold(
            temperature_c=glass.enamel_c, hold_s=programmes.ENAMEL_HOLD_S
        )
    return None


def request_of(
    *,
    kind: str,
    thickness_mm: float,
    glass: Glass,
    kiln: Kiln,
    is_dammed: bool,
    limits: Limits = DEFAULT_LIMITS,
    there_mpa: float = 0.0,
    longest_mm: float | None = None,
) -> DesignRequest:
    """Return the request for the engine.

    `there_mpa` is tension already in a slab: heating must leave room for it.
    `longest_mm` is its longest side, for what an uneven kiln does to it. A single sheet
    loses that in the fuse.

    Raises
    ------
    PhysicsProblem
        When the glass, the height or the temperatures are outside the model.
    """
    return DesignRequest(
        glass=physics_glass(glass),
        thickness_m=thickness_mm / 1000,
        kind=Kind(kind),
        boundary=boundary_of(is_dammed=is_dammed),
        limits=limits,
        process=process_of(kind, glass),
        sheet_m=glass.sheet_thickness_mm / 1000,
        start_c=practice.ROOM_C,
        opening_c=kiln.opening_temperature_c,
        controller=controller_of(kiln),
        kiln=kiln_model(kiln),
        uncertainty=uncertainty_of(glass, kiln),
        kiln_offset_k=kiln.offset_k,
        heating_limit_pa=_left_pa(limits, there_mpa),
        across=None
        if kind == FiringKind.ENAMEL
        else across_of(kiln, glass, longest_mm, keeps_room=True),
    )


def _left_pa(limits: Limits, there_mpa: float) -> float | None:
    """Return what the limit leaves for heating beside the tension already there."""
    if not there_mpa:
        return None
    left_pa = limits.temporary_pa - there_mpa * 1e6
    return max(left_pa, LEAST_SHARE * limits.temporary_pa)


def cache_key(request: DesignRequest) -> str:
    """Return the key of a design; it covers every number of the request."""
    fingerprint = sha256(repr(request).encode()).hexdigest()
    return f"design:{ENGINE}.{SHAPE}:{fingerprint}"


def is_designed(request: DesignRequest) -> bool:
    """Return whether the answer to a request is cached: a design, or why there is none."""
    return _kept(cache_key(request)) is not None


def designed(request: DesignRequest, told: Told | None = None) -> Design:
    """Design a schedule, or return the cached one for the same request.

    `told` is called with the number of bands computed so far. If it raises, the design
    ends and nothing is kept.

    Raises
    ------
    PhysicsProblem
        When no schedule keeps the limits, or the controller cannot be told one.
    """
    key = cache_key(request)
    kept = _kept(key)
    if kept is None:
        kept = _design(request, told)
        _keep(key, kept)
    if isinstance(kept, Refusal):
        raise PhysicsProblem(kept.cause, **kept.given)
    return replace(kept, request=replace(kept.request, glass=request.glass))


def _kept(key: str) -> Design | Refusal | None:
    """Return what is cached; if the cache is down, nothing is and the page goes on."""
    try:
        found: Design | Refusal | None = caches[STORE].get(key)
    except (RedisError, OSError) as problem:
        log.warning("Designs cannot be read from their store: %s", problem)
        return None
    return found


def _keep(key: str, made: Design | Refusal) -> None:
    try:
        caches[STORE].set(key, made, KEPT_S)
    except (RedisError, OSError) as problem:
        log.warning("A design cannot be kept in its store: %s", problem)


def _design(request: DesignRequest, told: Told | None) -> Design | Refusal:
    """Return a design as it is cached, or the model's refusal."""
    try:
        made = design(request, told)
    except PhysicsProblem as problem:
        return problem.refusal
    # The sources of a glass's numbers are a read-only view, which no cache accepts.
    bare = replace(made.request.glass, provenance={})
    return replace(made, request=replace(made.request, glass=bare))
