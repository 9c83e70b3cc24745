"""Records that were never saved, for tests of rules that only read their fields."""

from decimal import Decimal

from studio.labour import USUAL_TASKS, Area, Counted, Task
from studio.models import Glass, GlassFamily, Kiln, Studio
from studio.units import LengthUnit, TemperatureUnit
from studio.viewer import Viewer
from tests import make


def viewer(*, in_fahrenheit: bool = False) -> Viewer:
    """Return somebody who reads °C and mm, or °F and inches, in New York."""
    return Viewer(
        temperature_unit=TemperatureUnit.F if in_fahrenheit else TemperatureUnit.C,
        length_unit=LengthUnit.IN if in_fahrenheit else LengthUnit.MM,
        zone=make.ZONE,
        currency="USD",
        studio=Studio(pk=1, name="Gullmarsh"),
    )


def kiln(*, pk: int = 1, **changes: object) -> Kiln:
    return Kiln(pk=pk, studio_id=1, name=f"Kiln {pk}", **(make.KILN | changes))


def glass(*, pk: int = 1, **changes: object) -> Glass:
    values = {"name": f"Glass {pk}", "family": GlassFamily.EXPANSION_90} | make.GLASS
    return Glass(pk=pk, studio_id=1, **(values | changes))


def tasks(**minutes: int) -> tuple[Task, ...]:
    """Return simple rules for the usual tasks: by the piece, or of each that is counted.

    Minutes are by the tasks' keys: of a cut sheet, a pass, a firing, and else of the
    piece. Tasks that are not named take none.
    """
    counted = {
        "cutting": Counted.LAYER,
        "painting": Counted.PASS,
        "decals": Counted.DECAL,
        "loading": Counted.FIRING,
    }
    return tuple(
        Task(
            key=task.key,
            name=task.name,
            step=task.step,
            counted=counted.get(task.key, Counted.NOTHING),
            area=Area.NONE,
            **{
                "minutes_each" if task.key in counted else "minutes": Decimal(
                    minutes.get(task.key, 0)
                )
            },
        )
        for task in USUAL_TASKS
    )
