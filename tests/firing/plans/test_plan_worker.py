"""The real worker makes a plan, and another when a layer is lost."""

import pytest
from django.utils import timezone

from firing.models import Plan
from firing.plans.services import acceptance, plans
from studio.models import Layer
from studio.services import layers
from tests import make
from tests.firing import plans_build as build
from tests.worker import wait_until

pytestmark = [pytest.mark.worker, pytest.mark.slow]


def test_a_lost_layer_re_plans_in_the_worker(real_worker, cast, monkeypatch):
    monkeypatch.setattr(plans, "UNITS", build.UNITS)
    piece = build.work(cast)
    of_pass = make.passes_of(piece)[0]
    now = timezone.now()
    layers.record_painted(passes=[of_pass], by=cast.owner, at=now, minutes=60)
    layers.record_outcome(of_pass=of_pass, outcome="fine", by=cast.owner, at=now)
    real_worker.start()
    first = plans.ask_for_plan(studio=cast.studio, wish="new", by=cast.owner, at=now)
    wait_until(lambda: Plan.across_studios.get(pk=first.pk).state == "ready")
    acceptance.accept_plan(plan=first, option="whole", by=cast.owner, at=timezone.now())
    layers.make_again(
        layer=Layer.across_studios.get(piece=piece, number=1),
        reason="Cracked",
        by=cast.owner,
        at=timezone.now(),
    )
    wait_until(
        lambda: (
            Plan.owned.for_studio(cast.studio).filter(number=2, state="ready").exists()
        )
    )
    second = Plan.owned.for_studio(cast.studio).get(number=2)
    assert second.why == ["Layer 1 of Reed bed: set aside and made again (Cracked)."]
    added = [
        one
        for one in second.options[0]["changes"]
        if one["what"] == "firing" and one["before"] is None
    ]
    assert [one["piece"] for one in added] == [piece.pk]
    assert not Plan.across_studios.get(pk=first.pk).holds
