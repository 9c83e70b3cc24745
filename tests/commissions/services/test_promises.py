"""Promised days: held room, checks by the worker, days agreed with the client."""

import datetime as dt
from functools import partial

import pytest
from django.utils import timezone

from commissions.models import CheckReason, PromiseCheck
from commissions.selectors.commissions import view_commission
from commissions.selectors.promise_checks import PromiseStanding, news_of, shown_day
from commissions.selectors.promises import held_works, promise_of
from commissions.selectors.rates import choices_for
from commissions.selectors.waiting import waiting_today
from commissions.services import closing, intake, promises, quotes
from firing.plans.selectors.events import NOT_KNOWN
from studio import jobs
from studio.errors import Refused
from studio.models import Job, JobState, Kiln
from studio.selectors.due_dates import due_dates
from tests.commissions import build
from tests.firing import build as kilns
from tests.firing.plans_build import OLD_FACTS

DAY = dt.timedelta(days=1)


def run_checks(studio):
    """Do what the worker would; return how it ended."""
    waiting = Job.owned.for_studio(studio).filter(
        name=promises.CHECK_JOB, state=JobState.WAITING
    )
    return [jobs.run(job.pk, clock=timezone.now) for job in waiting.order_by("pk")]


def newest(quote):
    quote.refresh_from_db()
    return news_of(quote)


def titles(cast, **more):
    return [one.title for one in held_works(cast.studio, now=timezone.now(), **more)]


# --- Which quotes are held room for ---------------------------------------------------


def test_only_sent_valid_unanswered_quotes_with_a_day_are_held_room_for(cast):
    def request(title):
        return build.commission(cast, title=title)

    day = build.day(60)
    build.sent(cast, of=request("open"), promised_date=day)
    build.sent(cast, of=request("no day"))
    build.quote(cast, of=request("draft"), promised_date=day)
    build.accepted(cast, of=request("accepted"), promised_date=day)
    declined = build.sent(cast, of=request("declined"), promised_date=day)
    quotes.decline_quote(quote=declined, reason="", at=timezone.now())
    closed = request("closed")
    build.sent(cast, of=closed, promised_date=day)
    closing.close_commission(
        commission=closed, reason="Withdrawn", by=None, at=timezone.now()
    )
    over = build.sent(cast, of=request("over"), promised_date=day)
    over.valid_until_date = build.day(-1)
    over.save()
    assert titles(cast) == ["open"]
    later = timezone.now() + 40 * DAY
    assert held_works(cast.studio, now=later) == []


def test_the_newest_version_that_was_sent_counts(cast):
    commission = build.commission(cast)
    build.sent(cast, of=commission, promised_date=build.day(60))
    build.sent(cast, of=commission, promised_date=build.day(90))
    build.quote(cast, of=commission, promised_date=build.day(120))
    (found,) = held_works(cast.studio, now=timezone.now())
    assert found.due_date == build.day(90)
    assert found.maker == cast.owner.pk
    assert titles(cast, but=commission) == []


def test_a_declined_newest_version_frees_the_room(cast):
    commission = build.commission(cast)
    build.sent(cast, of=commission, promised_date=build.day(60))
    second = build.sent(cast, of=commission, promised_date=build.day(90))
    quotes.decline_quote(quote=second, reason="", at=timezone.now())
    assert titles(cast) == []


def test_other_studios_quotes_hold_nothing_here(cast, strangers):
    build.sent(strangers, promised_date=build.day(60))
    assert titles(cast) == []
    assert titles(strangers) == ["Slack water"]


def ask(commission):
    return promise_of(
        commission=commission, choices=choices_for(commission), now=timezone.now()
    )


def test_two_open_quotes_do_not_promise_the_same_kiln_night(cast):
    facts = {"width_mm": 450, "height_mm": 450}
    first = build.commission(cast, title="Ebb", **facts)
    second = build.commission(cast, title="Flood", **facts)
    free = ask(second)
    quote = build.sent(cast, of=first, promised_date=ask(first).date_80)
    behind = ask(second)
    assert behind.ready_date > free.ready_date
    assert behind.held.startswith(
        "Kiln time is also held for an open quote: Ebb, promised for"
    )
    assert ask(first).ready_date == free.ready_date
    quotes.decline_quote(quote=quote, reason="", at=timezone.now())
    assert ask(second).ready_date == free.ready_date
    assert ask(second).held == ""


# --- Worked out again -----------------------------------------------------------------


def test_sending_and_accepting_order_it_and_the_request_computes_nothing(
    cast, monkeypatch
):
    def never(**_):
        raise AssertionError("A request works no day out.")

    for name in ("promise_of", "promise_of_accepted"):
        monkeypatch.setattr(f"commissions.selectors.promised_again.{name}", never)
    quote = build.accepted(cast, promised_date=build.day(200))
    found = PromiseCheck.across_studios.order_by("pk")
    assert [one.why for one in found] == [CheckReason.SENT, CheckReason.ACCEPTED]
    assert all(one.job.name == promises.CHECK_JOB for one in found)
    assert newest(quote).standing is PromiseStanding.ASKED


def test_without_a_promised_day_nothing_is_ordered(cast):
    build.accepted(cast)
    assert not PromiseCheck.across_studios.exists()


def test_a_day_that_holds_is_stored_beside_the_promised_one(cast):
    quote = build.accepted(cast, promised_date=build.day(200))
    assert run_checks(cast.studio) == [JobState.DONE] * 2
    news = newest(quote)
    assert news.standing is PromiseStanding.HOLDS
    assert news.promised_date == build.day(200)
    assert news.check.ready_date <= news.check.date_80 < build.day(200)
    assert news.to_do == ()
    assert shown_day(quote) == build.day(200)
    assert "day" not in [one.why for one in today(cast)]


def today(cast):
    return waiting_today(cast.viewer("maker"), at=timezone.now())


def test_a_day_that_is_kept_only_with_luck_is_told_as_such(cast):
    quote = build.accepted(cast, promised_date=build.day(200))
    run_checks(cast.studio)
    ready = newest(quote).check.ready_date
    quote.promised_date = ready
    quote.save()
    check = newest(quote).check
    check.date_80 = ready + DAY
    check.save()
    assert newest(quote).standing is PromiseStanding.TIGHT
    assert shown_day(quote) is None
    (item,) = [one for one in today(cast) if one.why == "tight"]
    assert "On time only if nothing breaks: promised for" in item.words


def broken(cast):
    """An accepted quote whose kiln was rented out for half a year meanwhile."""
    quote = build.sent(cast, promised_date=build.day(60))
    kilns.booking(kiln=cast.kiln, starts_at=timezone.now() + DAY, hours=24 * 100)
    return quotes.accept_quote(quote=quote, name="Perpetua", at=timezone.now())


def test_a_day_that_no_longer_holds_is_told_with_what_changed_and_what_to_do(cast):
    quote = broken(cast)
    run_checks(cast.studio)
    news = newest(quote)
    assert news.standing is PromiseStanding.BROKEN
    assert "cannot be kept" in news.words
    assert any("was booked" in told for told in news.changes)
    assert not any("Slack water" in told for told in news.changes)
    assert news.new_date > build.day(100)
    assert "agree another day with the client" in news.to_do[-1]
    (item,) = [one for one in today(cast) if one.why == "day"]
    assert "can be promised for" in item.words
    assert item.kind == "problem"


def test_what_changed_since_facts_of_an_old_form_is_said_not_to_be_known(cast):
    quote = broken(cast)
    quote.promise_facts = OLD_FACTS
    quote.save()
    run_checks(cast.studio)
    assert newest(quote).changes == (NOT_KNOWN,)


def test_the_client_s_page_gives_no_day_that_does_not_hold(cast, client):
    quote = broken(cast)
    token = build.token(quote.commission)
    assert "Planned to be ready" not in client.get(f"/c/{token}/").content.decode()
    run_checks(cast.studio)
    page = client.get(f"/c/{token}/").content.decode()
    assert "Planned to be ready" not in page
    assert "cannot be kept" not in page
    promises.agree_date(
        commission=quote.commission, day=build.day(150), by=None, at=timezone.now()
    )
    run_checks(cast.studio)
    page = client.get(f"/c/{token}/").content.decode()
    assert f"Planned to be ready by {build.day(150):%A %-d %B %Y}" in page


def test_an_agreed_day_counts_from_then_on(cast):
    quote = broken(cast)
    run_checks(cast.studio)
    later = newest(quote).new_date + DAY
    promises.agree_date(
        commission=quote.commission, day=later, by=cast.owner, at=timezone.now()
    )
    assert set(due_dates(cast.studio).values()) == {later}
    run_checks(cast.studio)
    assert newest(quote).standing is PromiseStanding.HOLDS
    quote.refresh_from_db()
    assert quote.promised_date == build.day(60)


def test_a_closed_commission_promises_no_day(cast):
    quote = build.accepted(cast, promised_date=build.day(60))
    closed = {"commission": quote.commission, "by": None, "at": timezone.now()}
    closing.close_commission(reason="Withdrawn", **closed)
    assert due_dates(cast.studio) == {}
    for act in (promises.check_again, partial(promises.agree_date, day=build.day(9))):
        with pytest.raises(Refused, match="is closed: Withdrawn. Reopen it first"):
            act(**closed)
    closing.reopen_commission(**closed)
    assert set(due_dates(cast.studio).values()) == {build.day(60)}


def test_a_day_past_or_without_an_accepted_quote_is_refused(cast):
    sent = build.sent(cast, promised_date=build.day(60))

    def agree(day):
        promises.agree_date(
            commission=sent.commission, day=day, by=None, at=timezone.now()
        )

    with pytest.raises(Refused, match="Nothing is accepted yet"):
        agree(build.day(90))
    quotes.accept_quote(quote=sent, name="P", at=timezone.now())
    with pytest.raises(Refused, match="has passed"):
        agree(build.day(-1))


def test_what_cannot_be_done_at_all_is_stored_as_such(cast):
    quote = build.accepted(cast, promised_date=build.day(200))
    Kiln.owned.for_studio(cast.studio).update(is_retired=True)
    run_checks(cast.studio)
    news = newest(quote)
    assert news.standing is PromiseStanding.BROKEN
    assert "It can be given no date now" in news.words
    assert news.check.problem in news.words
    (item,) = [one for one in today(cast) if one.why == "day"]
    assert "can be given no date now" in item.words


def test_asking_again_while_it_is_worked_out_changes_nothing(cast):
    quote = build.sent(cast, promised_date=build.day(200))

    def again():
        promises.check_again(
            commission=quote.commission, by=cast.owner, at=timezone.now()
        )

    again()
    assert PromiseCheck.across_studios.count() == 1
    run_checks(cast.studio)
    again()
    assert PromiseCheck.across_studios.count() == 2


def test_a_job_that_failed_says_so_and_may_be_asked_again(cast):
    quote = build.sent(cast, promised_date=build.day(200))
    Job.across_studios.filter(name=promises.CHECK_JOB).update(state=JobState.FAILED)
    assert newest(quote).standing is PromiseStanding.FAILED
    promises.check_again(commission=quote.commission, by=None, at=timezone.now())
    assert newest(quote).standing is PromiseStanding.ASKED


def test_a_job_that_ran_already_stores_nothing_twice(cast):
    quote = build.sent(cast, promised_date=build.day(200))
    run_checks(cast.studio)
    made_at = newest(quote).check.made_at
    Job.across_studios.filter(name=promises.CHECK_JOB).update(
        state=JobState.WAITING, attempts=0
    )
    run_checks(cast.studio)
    assert newest(quote).check.made_at == made_at


def change(cast, commission, **facts):
    intake.change(
        commission=commission,
        client=commission.client,
        new_client={},
        reference_file=None,
        facts=facts,
        by=cast.owner,
        at=timezone.now(),
    )


def test_changing_what_is_asked_for_works_the_day_out_for_that(cast):
    quote = build.sent(cast, promised_date=build.day(200))
    run_checks(cast.studio)
    before = newest(quote).check.ready_date
    change(cast, quote.commission, brief="Bluer")
    assert PromiseCheck.across_studios.count() == 1
    change(cast, quote.commission, layer_count=12, passes_per_layer=4)
    run_checks(cast.studio)
    news = newest(quote)
    assert news.check.why == CheckReason.CHANGED
    assert news.check.ready_date > before


def test_a_change_from_an_old_page_is_compared_with_what_stands_now(cast):
    quote = build.sent(cast, promised_date=build.day(200))
    old_page = type(quote.commission).across_studios.get(pk=quote.commission_id)
    change(cast, quote.commission, layer_count=12)
    change(cast, old_page, layer_count=6)
    asked = PromiseCheck.across_studios.filter(why=CheckReason.CHANGED)
    assert asked.count() == 2


def test_a_changed_request_that_misses_its_day_asks_for_another_version(cast):
    quote = build.sent(cast, promised_date=build.day(12))
    change(cast, quote.commission, layer_count=20, passes_per_layer=6)
    run_checks(cast.studio)
    news = newest(quote)
    assert news.wants_a_hand
    assert "make another version with a new day" in news.to_do[-1]
    view = view_commission(quote.commission, at=timezone.now())
    assert view.promise_news.check == news.check
