"""What is usual for a family of glass, which a higher app knows.

The app that knows heat and glass registers one function here when it starts. A glass's
form proposes from it, and the stock says where a sheet is fired colder than it needs.
"""

from collections.abc import Callable
from dataclasses import dataclass

from studio.models import Glass, GlassFamily
from studio.viewer import Viewer

# How much colder than its family's a sheet may be fired without a word, an assumption:
# makers differ by less.
COLD_K = 40.0
PROCESSES = {"full_fuse_c": "Full fuse", "enamel_c": "Enamel firing"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyTemperatures:
    """A family's usual temperatures; several annealing points where several are quoted."""

    annealing_points_c: tuple[float, ...]
    anneal_soak_c: float
    enamel_c: float
    full_fuse_c: float

    def annealing_words(self, viewer: Viewer) -> str:
        """Say every annealing point that is quoted."""
        return " or ".join(viewer.temperature(c) for c in self.annealing_points_c)


FamilySource = Callable[[str], FamilyTemperatures]

_sources: list[FamilySource] = []


def knows_families(source: FamilySource) -> FamilySource:
    """Register what knows the families' temperatures."""
    _sources.append(source)
    return source


def usual_temperatures(family: str) -> FamilyTemperatures:
    """Return the usual temperatures of one of `GlassFamily`."""
    return _sources[-1](family)


def too_cold(glass: Glass, viewer: Viewer) -> list[str]:
    """Say which process of a glass is far colder than its family needs, and what to do."""
    usual = usual_temperatures(glass.family)
    ninety = usual_temperatures(GlassFamily.EXPANSION_90)
    return [
        f"{glass}: {label.lower()} at {viewer.temperature(getattr(glass, name))} is cold "
        f"for {glass.get_family_display()}. Only at about "
        f"{viewer.temperature(getattr(usual, name))} is it as soft as 90-expansion glass "
        f"at {viewer.temperature(getattr(ninety, name))}. Raise it, or fire a test first."
        for name, label in PROCESSES.items()
        if getattr(glass, name) < getattr(usual, name) - COLD_K
    ]
