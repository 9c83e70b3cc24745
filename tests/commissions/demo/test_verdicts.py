"""What the judge says about the demo's fired pieces: the cut one, the good one."""

from firing.loads.selectors.firings import firings
from firing.models import Firing
from firing.readings.selectors.verdict_inputs import JUDGE_JOB, judge_firing
from firing.schedules.selectors.verdict_numbers import mpa
from studio.models import Job, Studio


def fuse_of(title):
    studio = Studio.objects.get(name="Ebbside Kilns")
    return firings(studio).get(kind="full fuse", items__piece__title=title)


def test_the_cut_piece_is_to_be_annealed_again_and_the_maquette_is_well_annealed(demo):
    recorded = Firing.across_studios.filter(imports__isnull=False).distinct().count()
    ordered = Job.across_studios.filter(name=JUDGE_JOB).values_list(
        "arguments__firing_id", flat=True
    )
    assert len(set(ordered)) == recorded

    cut = judge_firing(fuse_of("Groyne in winter"))
    assert cut.verdict == "must be annealed again"
    (proposed,) = [one for one in cut.numbers["next"] if one["is_recommended"]]
    assert proposed["action"] == "re-anneal"
    assert proposed["is_within"]
    assert (
        mpa(proposed["residual_max_tension_pa"])[2]
        < 0.5
        < mpa(cut.numbers["residual_max_tension_pa"])[1]
    )

    good = judge_firing(fuse_of("Spring tide at the sluice, maquette"))
    assert good.verdict == "within the limits"
    assert mpa(good.numbers["residual_max_tension_pa"])[2] < 0.5

    running = judge_firing(fuse_of("Spring tide at the sluice"))
    assert running.verdict == "not over yet"
    assert {one["action"] for one in running.numbers["next"]} >= {
        "go on",
        "hold, then go on",
    }
