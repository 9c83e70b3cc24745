"""A kiln's facts, as pairs of words in the reader's units."""

from studio.models import Kiln
from studio.units import TemperatureUnit
from studio.viewer import Viewer


def offset_words(kiln: Kiln, viewer: Viewer) -> str:
    """Say how far off a kiln's display is, how sure that is, and since when."""
    sure = viewer.temperature_difference(kiln.offset_uncertainty_k)
    if not kiln.offset_k:
        words = f"the true temperature, to within {sure}"
    else:
        off = viewer.temperature_difference(abs(kiln.offset_k))
        side = "too little" if kiln.offset_k > 0 else "too much"
        words = f"{off} {side}, ± {sure}"
    found = [kiln.offset_how.strip()]
    if kiln.offset_found_on is not None:
        found.append(f"{kiln.offset_found_on:%-d %b %Y}")
    told = ", ".join(filter(None, found))
    if told:
        return f"{words} ({told})"
    return words if kiln.offset_k else f"{words} (assumed)"


def kiln_facts(kiln: Kiln, viewer: Viewer) -> list[tuple[str, str]]:
    """Return a kiln's facts; its hourly rate only for those who may see money."""
    unit = TemperatureUnit(kiln.controller_unit)
    inside = (
        f"{viewer.size(kiln.inner_width_mm, kiln.inner_depth_mm)}, "
        f"{viewer.length(kiln.inner_height_mm)} high"
    )
    slowest = viewer.rate(kiln.slowest_rate_c_per_h)
    fastest = viewer.rate(kiln.fastest_rate_c_per_h)
    facts = [
        ("Inside", inside),
        ("Shelf", viewer.size(kiln.shelf_width_mm, kiln.shelf_depth_mm)),
        ("Reaches", viewer.temperature(kiln.max_temperature_c)),
        ("May be opened below", viewer.temperature(kiln.opening_temperature_c)),
        ("Shows", offset_words(kiln, viewer)),
        ("Power", f"{kiln.power_w / 1000:.3g} kW"),
        ("Controller", f"in °{unit}, {kiln.controller_segments} segments"),
        ("Rates it takes", f"{slowest} to {fastest}"),
    ]
    if viewer.may_see_money and kiln.hourly_rate:
        facts.append(("An hour costs", viewer.money(kiln.hourly_rate)))
    return facts
