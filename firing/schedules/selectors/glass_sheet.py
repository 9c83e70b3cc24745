"""What the physics knows of a glass's data sheet: what it refuses, in plain words, and
what is usual for its family."""

from firing.physics.designing.programmes import ENAMEL_C, FULL_FUSE_C
from firing.physics.glass.families import (
    QUOTED_ANNEALING_C,
    family,
    refuse_other_family,
)
from firing.physics.glass.properties import GlassProblem, soak_of
from firing.physics.glass.viscosity import as_soft_as_ninety
from firing.physics.refusals import Cause, Quantity, Refusal, Unit
from firing.schedules.selectors.physics_slabs import EXPANSION_UNIT, physics_glass
from firing.schedules.selectors.refusal_words import quantity_words
from studio.models import Glass
from studio.selectors.glass_checks import check_of_glass
from studio.selectors.glass_families import FamilyTemperatures, knows_families
from studio.viewer import Viewer

# The form's names for what the physics calls otherwise, and sentences without the
# glass.
NAMES = {
    "strain_point_c": "strain point",
    "annealing_point_c": "annealing point",
    "density_kg_m3": "density",
    "expansion_glass_per_k": "expansion",
    "expansion_liquid_per_k": "expansion of the melt",
}
SENTENCES = {
    Cause.GLASS_OUT_OF_RANGE: (
        "The {key} is {value}; a kiln glass lies between {low} and {high}. Check the "
        "value and its unit."
    ),
    Cause.POINTS_OUT_OF_ORDER: (
        "The {cooler} is {low} and the {hotter} {high}: the order is strain, annealing, "
        "softening point. One of them is wrong."
    ),
    Cause.SOAK_FAR_OFF: (
        "The anneal soak is {soak} and the annealing point {annealing_point}; a soak "
        "lies from {below} below to {above} above it. One of them is wrong, or in "
        "another unit."
    ),
}


@knows_families
def family_temperatures(name: str) -> FamilyTemperatures:
    """Return what is usual for a family, fired where it is as soft as the 90 family."""
    own = family(name)
    return FamilyTemperatures(
        annealing_points_c=QUOTED_ANNEALING_C.get(name, (own.annealing_point_c,)),
        anneal_soak_c=soak_of(own),
        enamel_c=as_soft_as_ninety(own, ENAMEL_C),
        full_fuse_c=as_soft_as_ninety(own, FULL_FUSE_C),
    )


@check_of_glass
def data_sheet_problems(glass: Glass, viewer: Viewer) -> list[str]:
    """Return why the model cannot take a glass; an empty list when it can."""
    try:
        if glass.expansion_1e7_per_k is not None:
            refuse_other_family(
                glass.family, glass.expansion_1e7_per_k * EXPANSION_UNIT
            )
        physics_glass(glass)
    except GlassProblem as problem:
        return [_in_words(problem.refusal, viewer)]
    return []


def _in_words(refusal: Refusal, viewer: Viewer) -> str:
    """Say the model's refusal with the form's names and in the reader's units."""

    def say(one: Quantity) -> str:
        # The form asks for the expansion in the data sheets' unit.
        if one.unit is Unit.PER_KELVIN:
            return f"{one.value / EXPANSION_UNIT:g}"
        return quantity_words(one, viewer)

    return refusal.said(say, SENTENCES.get(refusal.cause), names=NAMES)
