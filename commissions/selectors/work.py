"""What a quote is for: the facts of the work, frozen on the quote."""

from dataclasses import asdict, dataclass
from typing import Any, Self

from commissions.models import Commission
from studio import labour
from studio.labour import Measures
from studio.models import Technique
from studio.units import MM_PER_INCH, LengthUnit
from studio.viewer import Viewer

# Frozen with the work, although they belong to the glass and not the commission.
OF_THE_GLASS = frozenset({"glass_name", "sheet_thickness_mm"})


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPart:
    """One stack to be made: the piece itself or its maquette."""

    name: str
    width_mm: float
    height_mm: float
    layer_count: int
    cap_count: int

    @property
    def painted_count(self) -> int:
        """Return how many layers carry an image."""
        return self.layer_count - self.cap_count

    @property
    def area_m2(self) -> float:
        """Return the area of one sheet."""
        return self.width_mm * self.height_mm / 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class CommissionWork:
    """The facts of a commission that its price is made from; lengths in mm."""

    title: str
    width_mm: float
    height_mm: float
    layer_count: int
    cap_count: int
    technique: str
    passes_per_layer: int
    glass_id: int
    glass_name: str
    sheet_thickness_mm: float
    is_dammed: bool
    maquette_layer_count: int
    maquette_width_mm: float | None
    maquette_height_mm: float | None

    @classmethod
    def of(cls, commission: Commission) -> Self:
        """Return the facts as the commission has them now."""
        same = {
            name: getattr(commission, name)
            for name in cls.__dataclass_fields__
            if name not in OF_THE_GLASS
        }
        return cls(
            **same,
            glass_name=commission.glass.name,
            sheet_thickness_mm=commission.glass.sheet_thickness_mm,
        )

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Return the facts that a quote was made from."""
        return cls(**stored)

    def as_json(self) -> dict[str, Any]:
        """Return the facts for a quote's inputs."""
        return asdict(self)

    @property
    def of_commission(self) -> dict[str, Any]:
        """Return the facts that are the commission's own fields."""
        return {k: v for k, v in asdict(self).items() if k not in OF_THE_GLASS}

    @property
    def thickness_mm(self) -> float:
        """Return the slab's nominal thickness: dams keep it from spreading."""
        return self.layer_count * self.sheet_thickness_mm

    @property
    def piece(self) -> WorkPart:
        """Return the piece itself."""
        return WorkPart(
            name="piece",
            width_mm=self.width_mm,
            height_mm=self.height_mm,
            layer_count=self.layer_count,
            cap_count=self.cap_count,
        )

    @property
    def maquette(self) -> WorkPart | None:
        """Return the maquette, with as many caps as the piece if its layers allow."""
        if not (
            self.maquette_layer_count
            and self.maquette_width_mm
            and self.maquette_height_mm
        ):
            return None
        return WorkPart(
            name="maquette",
            width_mm=self.maquette_width_mm,
            height_mm=self.maquette_height_mm,
            layer_count=self.maquette_layer_count,
            cap_count=min(self.cap_count, self.maquette_layer_count - 1),
        )

    @property
    def parts(self) -> tuple[WorkPart, ...]:
        """Return every stack to be made, the piece first."""
        maquette = self.maquette
        return (self.piece,) if maquette is None else (self.piece, maquette)

    def measures(self, part: WorkPart, *, firings: int = 0) -> Measures:
        """Return what the work by hand on one stack is counted by."""
        passes = part.painted_count * self.passes_per_layer
        is_decal = self.technique == Technique.DECAL
        return labour.measures(
            width_mm=part.width_mm,
            height_mm=part.height_mm,
            thickness_mm=part.layer_count * self.sheet_thickness_mm,
            layers=part.layer_count,
            images=part.painted_count,
            passes=0 if is_decal else passes,
            decals=passes if is_decal else 0,
            firings=firings,
        )


def about_length(mm: float, viewer: Viewer) -> str:
    """Write an approximate length: whole mm, or eighths of an inch."""
    step = MM_PER_INCH / 8 if viewer.length_unit == LengthUnit.IN else 1.0
    return viewer.length(max(1, round(mm / step)) * step)


def work_facts(work: CommissionWork, viewer: Viewer) -> list[tuple[str, str]]:
    """Return what will be made, in words for the client and the studio alike."""
    thickness = about_length(work.thickness_mm, viewer)
    layers = f"{work.layer_count} in glass"
    if work.cap_count:
        layers = f"{work.layer_count}, of which {work.cap_count} clear at the front"
    technique = Technique(work.technique).label
    passes = work.passes_per_layer
    facts = [
        ("Size", viewer.size(work.width_mm, work.height_mm)),
        ("Thickness", f"about {thickness}"),
        ("Layers", layers),
        ("Image", f"{technique}, {passes} {'pass' if passes == 1 else 'passes'} each"),
        ("Glass", work.glass_name),
    ]
    if work.maquette is not None:
        part = work.maquette
        size = viewer.size(part.width_mm, part.height_mm)
        facts.append(("Maquette first", f"{size}, {part.layer_count} layers"))
    return facts
