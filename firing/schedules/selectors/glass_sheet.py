"""Whether the physics believes a glass's data sheet; what it refuses, in plain words."""

import re

from firing.physics.glass.families import refuse_other_family
from firing.physics.glass.properties import GlassProblem
from firing.schedules.selectors.refusal_words import refusal_words
from firing.schedules.selectors.stress import EXPANSION_UNIT, physics_glass
from studio.models import Glass
from studio.reader import Reader
from studio.selectors.glass_checks import check_of_glass

WORDS = {
    "strain_point_c": "The strain point",
    "annealing_point_c": "the annealing point",
    "soak_c": "The anneal soak",
    "density_kg_m3": "The density",
    "expansion_glass_per_k": "The expansion",
    "expansion_liquid_per_k": "The expansion of the melt",
}
PER_KELVIN = re.compile(r"(\d+(?:\.\d+)?(?:e-?\d+)?) 1/K")


@check_of_glass
def data_sheet_problems(glass: Glass, reader: Reader) -> list[str]:
    """Return why the model cannot take a glass; an empty list when it can."""
    try:
        if glass.expansion_1e7_per_k is not None:
            refuse_other_family(
                glass.family, glass.expansion_1e7_per_k * EXPANSION_UNIT
            )
        physics_glass(glass)
    except GlassProblem as problem:
        return [_in_words(str(problem), glass, reader)]
    return []


def _in_words(text: str, glass: Glass, reader: Reader) -> str:
    """Say the model's refusal with the form's names and the reader's degrees."""
    for name, words in WORDS.items():
        text = text.replace(name, words)
    text = text.replace(f" of {glass.name}", "")
    text = refusal_words(text, reader)
    text = PER_KELVIN.sub(
        lambda found: f"{float(found.group(1)) / EXPANSION_UNIT:g}", text
    )
    return text[:1].upper() + text[1:]
