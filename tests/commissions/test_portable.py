"""Quotes that arrive from another server, and days that nobody had worked out yet."""

import pytest

from commissions.models import PromiseCheck, Quote
from commissions.portable import mend_quote, order_checks
from studio.models import Job
from tests.commissions import build
from tests.make import NOW

KEYS = {"studio.glass": {3: 103}}


@pytest.mark.parametrize(
    ("inputs", "then"),
    [
        (
            {"work": {"glass_id": 3, "layer_count": 6}},
            {"work": {"glass_id": 103, "layer_count": 6}},
        ),
        ({"work": {"glass_id": 4}}, {"work": {"glass_id": None}}),  # gone
        ({"work": {"title": "Slack water"}}, {"work": {"title": "Slack water"}}),
        ({}, {}),
    ],
)
def test_what_a_price_was_made_from_names_the_new_glass(inputs, then):
    quote = Quote(inputs=inputs)
    assert mend_quote(quote, KEYS), "no quote is left behind"
    assert quote.inputs == then


def test_a_day_that_waited_for_the_old_worker_is_worked_out_here(cast, strangers):
    for where in (cast, strangers):
        build.sent(where, promised_date=build.day(90))
    assert PromiseCheck.across_studios.filter(made_at=None).count() == 2
    Job.across_studios.all().delete()
    order_checks(cast.studio, NOW)
    (job,) = Job.across_studios.all()
    check = PromiseCheck.owned.for_studio(cast.studio).get()
    assert (job.studio, check.job) == (cast.studio, job)


def test_a_day_worked_out_already_is_not_ordered_again(cast):
    build.sent(cast, promised_date=build.day(90))
    PromiseCheck.across_studios.update(made_at=NOW)
    Job.across_studios.all().delete()
    order_checks(cast.studio, NOW)
    assert not Job.across_studios.exists()
