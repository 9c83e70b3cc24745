"""The watch over promised dates: what has one worked out again, and what comes of it."""

import datetime as dt
from concurrent.futures import ThreadPoolExecutor, wait

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from commissions.models import CheckReason, PromiseCheck, PromiseOutcome
from commissions.selectors.promise_checks import PromiseStanding, news_of
from commissions.selectors.standing_promises import standing_promises
from commissions.selectors.waiting import waiting_today
from commissions.services import payments, promises, quotes
from commissions.services.promise_watch import watch_the_clock
from firing.firings.services import firings, running
from firing.kiln_time.services import bookings
from firing.loads.selectors.planned import GRACE
from firing.plans.services import moves
from studio import jobs
from studio.models import HistoryEntry, Job, JobState, Layer
from studio.services import history, layers, pieces, put_right, stack_order
from studio.services.pieces import LayerPlan
from tests import make
from tests.commissions import build
from tests.firing import build as kilns
from tests.patience import LONG_S
from tests.studio.views.pages import text_of
from tests.worker import run_waiting_jobs

# A Monday: the studio's kilns are free for all of the spring.
MONDAY = dt.datetime(2026, 3, 2, 15, 0, tzinfo=dt.UTC)
DAY, HOUR = dt.timedelta(days=1), dt.timedelta(hours=1)


class Clock:
    """The present, wherever a test moves it."""

    now = MONDAY


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    found = Clock()
    monkeypatch.setattr("django.utils.timezone.now", lambda: found.now)
    # The PDF of a quote is no part of this, and slow.
    monkeypatch.setattr("commissions.services.quotes.ask_for_paper", lambda **_: None)
    return found


@pytest.fixture
def quote(cast):
    """An accepted quote whose date, in a hundred days, was found to stand."""
    return promised(cast)


def promised(cast, *, days=100):
    found = build.accepted(cast, promised_date=build.day(days))
    run_waiting_jobs()
    return found


def piece_of(quote):
    return quote.commission.commissioned_pieces.get().piece


def waiting():
    return Job.across_studios.filter(
        name=promises.CHECK_JOB, state=JobState.WAITING
    ).count()


def news(quote):
    quote.refresh_from_db()
    return news_of(quote)


def outcome(quote):
    run_waiting_jobs()
    return news(quote).check.outcome


def page(browser, quote):
    address = reverse("commissions:commission_detail", args=[quote.commission.pk])
    return browser.get(address).content.decode()


def lines(cast):
    found = waiting_today(cast.viewer("maker"), at=timezone.now())
    return [item.words for item in found]


def rent(cast, *, days=200):
    return kilns.booking(
        kiln=cast.kiln,
        starts_at=timezone.now() + DAY,
        hours=24 * days,
        title="Bowls",
        at=timezone.now(),
    )


# --- What has it worked out again -----------------------------------------------------


def take_out(cast, quote):
    layer = Layer.across_studios.get(piece=piece_of(quote), number=2)
    stack_order.take_out_layer(layer=layer, by=cast.owner, at=timezone.now())


def add(cast, quote):
    plan = LayerPlan(technique="painted", glass=cast.glass, passes=2)
    stack_order.add_layer(
        piece=piece_of(quote), place=1, plan=plan, by=cast.owner, at=timezone.now()
    )


def burn(cast, quote, *, ends="fine"):
    of_pass = make.passes_of(piece_of(quote))[0]
    now = timezone.now()
    layers.record_painted(passes=[of_pass], by=cast.owner, at=now, minutes=60)
    layers.record_outcome(of_pass=of_pass, outcome=ends, by=cast.owner, at=now)


def lose(cast, quote):
    burn(cast, quote)
    layers.make_again(
        layer=Layer.across_studios.get(piece=piece_of(quote), number=1),
        reason="Cracked on the light table",
        by=cast.owner,
        at=timezone.now(),
    )


def correct(cast, quote):
    lose(cast, quote)
    run_waiting_jobs()
    put_right.take_back_again(
        layer=Layer.across_studios.get(piece=piece_of(quote), number=1),
        reason="It is whole",
        by=cast.owner,
        at=timezone.now(),
    )


def book(cast, quote):
    rent(cast)


def cancel(cast, quote):
    booked = rent(cast)
    run_waiting_jobs()
    bookings.cancel_booking(booking=booked, reason="", by=cast.owner, at=timezone.now())


def move(cast, quote):
    booked = rent(cast, days=0.5)
    run_waiting_jobs()
    moves.move_booking(
        booking=booked,
        kiln=cast.kiln,
        starts_at=booked.starts_at + 7 * DAY,
        by=cast.owner,
        at=timezone.now(),
    )


@pytest.mark.parametrize(
    "happens", [take_out, add, burn, lose, correct, book, cancel, move]
)
def test_whatever_may_break_it_has_it_worked_out_again_once(cast, quote, happens):
    happens(cast, quote)
    assert waiting() == 1
    found = news(quote)
    assert found.check.why == CheckReason.HAPPENED
    assert found.standing is PromiseStanding.ASKED
    run_waiting_jobs()
    assert waiting() == 0
    assert news(quote).check.outcome


def test_ten_events_make_one_job_and_leave_one_result(cast, quote):
    for _ in range(10):
        add(cast, quote)
    assert waiting() == 1
    run_waiting_jobs()
    add(cast, quote)
    run_waiting_jobs()
    watched = PromiseCheck.across_studios.filter(why=CheckReason.HAPPENED)
    assert watched.count() == 1


def test_no_old_sentence_stands_while_it_is_worked_out(cast, quote, signed_in):
    browser = signed_in("maker")
    assert "On time" in page(browser, quote)
    lose(cast, quote)
    told = page(browser, quote)
    assert "Being worked out again" in told
    assert "something was recorded in the studio" in told
    assert "On time" not in told
    jobs.claim(news(quote).check.job_id, now=timezone.now())
    assert "Being worked out again" in page(browser, quote)


def test_what_happens_while_it_is_worked_out_has_it_worked_out_once_more(cast, quote):
    add(cast, quote)
    first = news(quote).check
    begun = jobs.claim(first.job_id, now=timezone.now())
    add(cast, quote)
    assert news(quote).check.pk != first.pk
    found = promises.CheckedPromise(ready_date=build.day(50), date_80=build.day(60))
    promises.keep_check(
        studio=cast.studio, check_id=first.pk, found=found, at=timezone.now()
    )
    assert begun is not None
    assert news(quote).standing is PromiseStanding.ASKED


@pytest.mark.django_db(transaction=True)
def test_a_waiting_check_cannot_begin_without_seeing_what_is_being_recorded(cast):
    quote = promised(cast)
    add(cast, quote)
    job_id = news(quote).check.job_id

    def begin():
        try:
            return jobs.claim(job_id, now=timezone.now())
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool:
        with transaction.atomic():
            add(cast, quote)
            begun = pool.submit(begin)
            assert not wait([begun], timeout=0.5).done
        assert begun.result(timeout=LONG_S) is not None
    assert PromiseCheck.across_studios.filter(made_at=None).count() == 1


def test_money_breaks_no_promise(cast, quote):
    payments.record_payment(
        commission=quote.commission,
        amount=quote.total,
        received_date=build.day(0),
        by=cast.owner,
        at=timezone.now(),
    )
    assert waiting() == 0


def test_another_studio_s_events_are_its_own(cast, quote, strangers):
    rent(strangers)
    assert waiting() == 0


# --- The clock ------------------------------------------------------------------------


def sweep(clock, at):
    """Let the worker's beat come round at an instant; say what it ordered."""
    clock.now = at
    watch_the_clock(at)
    open_now = PromiseCheck.across_studios.filter(made_at=None)
    return [one.why for one in open_now.order_by("pk")]


def loaded(cast, quote):
    """Make up an enamel firing that begins in two hours."""
    passes = [one for one in make.passes_of(piece_of(quote)) if one.number == 1][:2]
    now = timezone.now()
    layers.record_painted(passes=passes, by=cast.owner, at=now, minutes=60)
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=passes,
        starts_at=now + 2 * HOUR,
        by=cast.owner,
        at=now,
    )
    run_waiting_jobs()
    return firing


def test_a_load_that_is_missed_has_it_worked_out_once(cast, quote, clock):
    starts_at = loaded(cast, quote).booking.starts_at
    assert sweep(clock, starts_at + GRACE - dt.timedelta(minutes=1)) == []
    assert sweep(clock, starts_at + GRACE) == [CheckReason.MISSED]
    run_waiting_jobs()
    assert sweep(clock, starts_at + GRACE + dt.timedelta(minutes=5)) == []


def test_a_kiln_past_its_planned_opening_has_it_worked_out_once(cast, quote, clock):
    firing = loaded(cast, quote)
    clock.now = firing.booking.starts_at
    running.start_firing(firing=firing, by=cast.owner, at=clock.now)
    firing.booking.refresh_from_db()
    clock.now = opens_at = firing.booking.ends_at
    sweep(clock, opens_at)
    run_waiting_jobs()
    assert sweep(clock, opens_at) == []
    assert sweep(clock, opens_at + dt.timedelta(minutes=1)) == [CheckReason.LATE]
    run_waiting_jobs()
    assert sweep(clock, opens_at + dt.timedelta(minutes=10)) == []


def test_each_day_has_it_worked_out_once_by_the_studio_s_own_midnight(
    cast, quote, clock
):
    midnight = dt.datetime(2026, 3, 3, tzinfo=make.ZONE)
    assert sweep(clock, midnight - dt.timedelta(minutes=1)) == []
    assert sweep(clock, midnight) == [CheckReason.DAY]
    assert sweep(clock, midnight + dt.timedelta(minutes=1)) == [CheckReason.DAY]
    run_waiting_jobs()
    assert sweep(clock, midnight + HOUR) == []


def test_the_worker_s_beat_asks_it(cast, quote, clock):
    clock.now = MONDAY + DAY
    jobs.sweep(now=clock.now)
    assert news(quote).check.why == CheckReason.DAY


# --- What comes of it -----------------------------------------------------------------


def test_a_date_that_cannot_be_kept_is_told_with_the_reason_and_the_first_that_can(
    cast, quote, signed_in
):
    booked = rent(cast)
    assert outcome(quote) == PromiseOutcome.CANNOT
    found = news(quote)
    assert found.check.reason == "“Bowls” in {} ({}) was booked.".format(
        cast.kiln, f"{booked.starts_at.astimezone(make.ZONE):%a %-d %b %H:%M}"
    )
    assert found.new_date > quote.promised_date
    told = page(signed_in("maker"), quote)
    assert "Cannot be kept" in told
    assert "“Bowls”" in told
    (line,) = [one for one in lines(cast) if one.startswith("Cannot be kept")]
    assert f"can be promised for {found.new_date:%a %-d %b %Y} now" in line
    bookings.cancel_booking(booking=booked, reason="", by=None, at=timezone.now())
    assert outcome(quote) == PromiseOutcome.STANDS
    assert news(quote).check.reason == ""
    assert not [one for one in lines(cast) if "promised" in one]


def test_a_lost_layer_is_the_reason_before_anything_else_that_changed(cast):
    quote = promised(cast, days=100)
    rent(cast)
    lose(cast, quote)
    assert outcome(quote) == PromiseOutcome.CANNOT
    assert news(quote).check.reason.startswith("Layer 1 of Slack water: set aside")


def test_a_date_that_has_passed_is_overdue_within_the_hour(
    cast, quote, clock, signed_in
):
    late = dt.datetime.combine(quote.promised_date + DAY, dt.time(0, 5), make.ZONE)
    sweep(clock, late)
    assert outcome(quote) == PromiseOutcome.OVERDUE
    (line,) = [one for one in lines(cast) if one.startswith("Overdue")]
    assert f"promised for {quote.promised_date:%a %-d %b %Y}" in line
    told = page(signed_in("maker"), quote)
    assert "has passed and the work is not finished" in told
    today = signed_in("maker").get(reverse("studio:today")).content.decode()
    assert "Overdue" in today
    assert reverse("commissions:commission_detail", args=[quote.commission.pk]) in today


def test_on_its_last_day_it_is_not_overdue(cast, quote, clock):
    sweep(clock, dt.datetime.combine(quote.promised_date, dt.time(23), make.ZONE))
    assert outcome(quote) == PromiseOutcome.CANNOT


def test_a_result_of_an_earlier_version_is_worked_out_again(cast, quote, clock):
    PromiseCheck.across_studios.update(outcome="")
    assert news(quote).standing is PromiseStanding.ASKED
    assert sweep(clock, clock.now) == [CheckReason.DAY]
    assert outcome(quote) == PromiseOutcome.STANDS
    assert sweep(clock, clock.now) == []


def test_agreeing_on_the_same_date_tells_no_change(cast, quote):
    before = HistoryEntry.across_studios.count()
    promises.agree_date(
        commission=quote.commission,
        day=quote.promised_date,
        by=cast.owner,
        at=timezone.now(),
    )
    assert HistoryEntry.across_studios.count() == before
    assert news(quote).standing is not PromiseStanding.ASKED


@pytest.mark.parametrize("days", [0, 1])
def test_no_sentence_gives_a_date_for_the_same_date(cast, quote, days):
    """A date is kept or another is named, never the same one as another."""
    check = news(quote).check
    ready = quote.promised_date + days * DAY
    found = promises.CheckedPromise(ready_date=ready, date_80=ready, date_95=ready)
    promises.keep_check(
        studio=cast.studio, check_id=check.pk, found=found, at=timezone.now()
    )
    told = news(quote)
    day = f"{quote.promised_date:%a %-d %b %Y}"
    for words in (told.words, *lines(cast)):
        assert words.count(day) <= 1


# --- Quotes that nobody has answered --------------------------------------------------


def test_the_date_on_a_sent_quote_is_watched_until_it_runs_out(cast, clock, signed_in):
    quote = build.sent(cast, promised_date=build.day(100))
    assert outcome(quote) == PromiseOutcome.STANDS
    rent(cast)
    assert outcome(quote) == PromiseOutcome.CANNOT
    told = page(signed_in("maker"), quote)
    assert "date can no longer be met" in told
    clock.now = dt.datetime.combine(quote.valid_until_date + DAY, dt.time(9), make.ZONE)
    assert sweep(clock, clock.now) == []


def test_a_declined_quote_and_one_without_a_date_are_not_watched(cast):
    quote = build.sent(cast, promised_date=build.day(100))
    run_waiting_jobs()
    quotes.decline_quote(quote=quote, reason="", at=timezone.now())
    build.accepted(cast, of=build.commission(cast, title="No date"))
    rent(cast)
    assert waiting() == 0


# --- Message to the client ------------------------------------------------------------


def test_the_client_reads_the_date_as_it_was_promised_and_never_another(
    cast, quote, client
):
    token = build.token(quote.commission)
    day = f"{quote.promised_date:%A %-d %B %Y}"

    def told():
        return client.get(f"/c/{token}/").content.decode()

    assert f"Planned to be ready by {day}." in told()
    rent(cast)
    as_promised = f"Promised on 2 March 2026 for {day}."
    assert "Planned to be ready" not in told()
    assert as_promised in told()
    assert outcome(quote) == PromiseOutcome.CANNOT
    later = news(quote).new_date
    assert as_promised in told()
    for form in (f"{later:%A %-d %B %Y}", f"{later:%a %-d %b %Y}"):
        assert form not in told()
    promises.agree_date(
        commission=quote.commission, day=later, by=None, at=timezone.now()
    )
    assert f"Agreed on 2 March 2026 for {later:%A %-d %B %Y}." in told()
    run_waiting_jobs()
    assert f"Planned to be ready by {later:%A %-d %B %Y}." in told()


def test_an_offer_says_until_when_its_date_stands(cast, client):
    quote = build.sent(cast, promised_date=build.day(100))
    told = client.get(f"/c/{build.token(quote.commission)}/").content.decode()
    assert f"Ready by {build.day(100):%A %-d %B %Y} if you accept by" in told


# --- What needs no watch --------------------------------------------------------------


def test_finished_work_is_watched_no_more(cast, quote, clock):
    piece = piece_of(quote)
    now = timezone.now()
    make.paint_and_fuse(piece, by=cast.maker, at=now)
    run_waiting_jobs()
    assert outcome(quote)
    before = news(quote).check
    pieces.finish_piece(piece=piece, by=cast.maker, at=now)
    run_waiting_jobs()
    assert news(quote).check == before
    rent(cast)
    assert waiting() == 0
    assert sweep(clock, MONDAY + 200 * DAY) == []
    assert not [one for one in lines(cast) if "Overdue" in one]
    put_right.take_back_event(
        event=put_right.last_event(piece, "finished"),
        reason="A chip",
        by=cast.maker,
        at=timezone.now(),
    )
    assert waiting() == 1


def test_a_lost_piece_keeps_no_date_until_it_is_made_again(cast, quote):
    pieces.mark_lost(
        piece=piece_of(quote), note="It fell", by=cast.maker, at=timezone.now()
    )
    assert outcome(quote) == PromiseOutcome.CANNOT
    assert news(quote).check.problem in news(quote).words


def test_an_accepted_addendum_is_watched_instead_of_what_it_changes(cast, quote):
    of = quote.commission
    of.width_mm = 310
    of.save()
    addendum = build.accepted_addendum(cast, of=of, promised_date=build.day(120))
    assert [one.pk for one in standing_promises(cast.studio, at=MONDAY)] == [
        addendum.pk
    ]


def test_beside_a_layer_just_added_its_piece_says_what_becomes_of_the_date(
    cast, signed_in, quote
):
    piece = piece_of(quote)
    plan = LayerPlan(technique="painted", glass=cast.glass, passes=2)
    stack_order.add_layer(piece=piece, place=1, plan=plan, by=None, at=MONDAY)
    address = reverse("studio:piece_detail", args=[piece.pk])
    assert "being worked out again" in text_of(signed_in().get(address))
    run_waiting_jobs()
    told = f"{quote.promised_date:%a %-d %b %Y}: on time"
    assert told in text_of(signed_in().get(address))


def test_a_recorded_line_costs_no_more_for_every_promise_that_waits(cast, quote):
    piece = piece_of(quote)

    def record():
        with CaptureQueriesContext(connection) as caught:
            history.record(
                studio=cast.studio, by=None, at=MONDAY, what="Noted", piece=piece
            )
        return len(caught)

    record()
    few = record()
    for days in (101, 102, 103):
        build.accepted(cast, promised_date=build.day(days))
    record()
    assert record() == few
