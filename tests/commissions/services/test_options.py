"""Options of a quote: side by side, sent together, one is picked."""

from decimal import Decimal

import pytest
from django.utils import timezone

from commissions import documents
from commissions.models import Quote
from commissions.pricing import Section
from commissions.selectors.commissions import view_commission
from commissions.selectors.quotes import (
    QuoteState,
    option_facts,
    options_of,
    view_quote,
)
from commissions.selectors.rates import QuoteChoices
from commissions.selectors.work import CommissionWork
from commissions.services import quotes
from commissions.services.options import draft_option, remove_option, show_lines
from studio.errors import Refused
from studio.models import Piece
from studio.viewer import Viewer
from tests.commissions import build


def option(of, cast, **changes):
    facts = {
        "name": "Smaller",
        "width_mm": 200.0,
        "height_mm": 150.0,
        "layer_count": 4,
        "has_maquette": False,
    }
    return draft_option(quote=of, by=cast.owner, at=timezone.now(), **(facts | changes))


def work_of(quote):
    return CommissionWork.from_json(quote.inputs["work"])


def fresh(quote):
    return Quote.across_studios.get(pk=quote.pk)


def test_an_option_is_the_same_work_in_another_size_at_the_same_rates(cast):
    first = build.quote(cast, rates={"markup_percent": Decimal(33)})
    second = option(first, cast)
    assert (second.version, second.option, second.name) == (1, "B", "quote 1B")
    assert fresh(first).option == "A"
    assert (work_of(second).width_mm, work_of(second).layer_count) == (200, 4)
    then = [QuoteChoices.from_json(one.inputs["choices"]) for one in (first, second)]
    assert then[0] == then[1]
    assert second.total < first.total
    assert sum(line.amount for line in second.lines.all()) == second.total
    assert second.valid_until_date == first.valid_until_date


@pytest.mark.parametrize(
    ("changes", "names"),
    [
        ({"width_mm": 254.0, "height_mm": 127.0}, ("12 × 8 in", "10 × 5 in")),
        ({"layer_count": 4}, ("6 layers", "4 layers")),
        ({"has_maquette": True}, ("Without a maquette", "With a maquette")),
        (
            {"layer_count": 4, "has_maquette": True},
            ("6 layers, without a maquette", "4 layers, with a maquette"),
        ),
        ({"layer_count": 4, "name": "For the hall"}, ("6 layers", "For the hall")),
    ],
)
def test_without_a_name_it_is_named_by_what_differs(cast, changes, names):
    asked = {"width_mm": 304.8, "height_mm": 203.2, "layer_count": 6}
    first = build.quote(cast, of=build.commission(cast, **asked))
    second = option(first, cast, **(asked | {"name": ""} | changes))
    assert (fresh(first).option_name, second.option_name) == names


def test_what_is_refused_names_the_option_by_its_capital(cast):
    first = build.quote(cast)
    option(first, cast)
    quotes.send_quote(quote=fresh(first), by=cast.owner, at=timezone.now())
    with pytest.raises(Refused, match="Quote 1A was sent"):
        option(fresh(first), cast)


def test_a_maquette_keeps_its_share(cast):
    first = build.quote(cast, of=build.commission(cast, **build.maquette()))
    with_it = option(first, cast, has_maquette=True, layer_count=12)
    small = work_of(with_it).maquette
    assert (small.width_mm, small.height_mm, small.layer_count) == (100, 75, 6)
    assert work_of(option(first, cast)).maquette is None


def test_they_are_sent_together_and_each_has_its_paper_with_all_of_them(cast):
    first = build.quote(cast)
    second = option(first, cast)
    quotes.send_quote(quote=fresh(second), by=cast.owner, at=timezone.now())
    for one in (first, second):
        sent = fresh(one)
        assert sent.sent_at is not None
        named = [name for name, _, _ in documents.quote_paper(sent).options]
        assert [name[0] for name in named] == ["A", "B"]
        number = f"{sent.commission_id}-1{sent.option}"
        assert documents.quote_paper(sent).number == number
        assert view_quote(sent, at=timezone.now()).state is QuoteState.WAITING
    view = view_commission(first.commission, at=timezone.now())
    assert [one.quote.option for one in view.options] == ["A", "B"]
    assert view.waiting.quote.option == "A"


def test_the_one_that_is_picked_is_made_and_the_other_is_off(cast):
    first = build.quote(cast)
    second = option(first, cast)
    quotes.send_quote(quote=first, by=cast.owner, at=timezone.now())
    quotes.accept_quote(quote=second, name="Perpetua Vane", at=timezone.now())
    piece = Piece.owned.for_studio(cast.studio).get()
    assert (piece.width_mm, piece.height_mm) == (200, 150)
    assert piece.layers.count() == 4
    commission = first.commission
    commission.refresh_from_db()
    assert (commission.width_mm, commission.layer_count) == (200, 4)
    assert view_quote(fresh(first), at=timezone.now()).state is QuoteState.REPLACED
    again = quotes.accept_quote(quote=first, name="Other", at=timezone.now())
    assert again.pk == second.pk


def test_declining_one_declines_them_all(cast):
    first = build.quote(cast)
    second = option(first, cast)
    quotes.send_quote(quote=first, by=cast.owner, at=timezone.now())
    quotes.decline_quote(quote=second, reason="Too dear", at=timezone.now())
    assert all(fresh(one).declined_at for one in (first, second))


def test_a_removed_option_leaves_the_quote_as_it_was(cast):
    first = build.quote(cast)
    second = option(first, cast)
    left = remove_option(quote=second, by=cast.owner, at=timezone.now())
    assert left.pk == first.pk
    assert (fresh(first).option, fresh(first).option_name) == ("", "")
    with pytest.raises(Refused, match="It stays"):
        remove_option(quote=fresh(first), by=cast.owner, at=timezone.now())


def test_what_was_sent_has_no_more_options_and_shows_no_other_lines(cast):
    sent = build.sent(cast)
    with pytest.raises(Refused, match="Make another version"):
        option(sent, cast)
    with pytest.raises(Refused, match="Make another version"):
        show_lines(quote=sent, numbers=[1], at=timezone.now())


def test_there_are_four_at_most_and_no_two_the_same(cast):
    first = build.quote(cast)
    for layers in (3, 4, 5):
        option(fresh(first), cast, layer_count=layers)
    with pytest.raises(Refused, match="at most 4 options"):
        option(fresh(first), cast, layer_count=9)
    other = build.quote(cast)
    option(other, cast)
    with pytest.raises(Refused, match="just like this"):
        option(fresh(other), cast)
    with pytest.raises(Refused, match="none carries an image"):
        option(fresh(other), cast, layer_count=1)


def test_an_addendum_has_none(cast):
    accepted = build.accepted(cast)
    commission = accepted.commission
    commission.layer_count = 9
    commission.save()
    with pytest.raises(Refused, match="has no options"):
        option(build.addendum(cast, of=commission), cast)


def test_the_client_sees_the_lines_that_were_ticked_and_the_rest_as_one(cast):
    quote = build.quote(cast)
    viewer = Viewer.of_studio(cast.studio)
    lines = [one for one in quote.lines.all() if one.section != Section.TAX]
    ticked = [one for one in lines if one.label in {"Painting", "Delivery"}]
    show_lines(quote=quote, numbers=[one.number for one in ticked], at=timezone.now())
    the_work, *rest = documents.client_sections(fresh(quote), viewer)
    assert [one["label"] for section in rest for one in section["lines"]] == [
        "Painting",
        "Delivery",
    ]
    left = quote.net - sum(one.amount for one in ticked)
    assert the_work["lines"][0]["amount"] == viewer.money(left, quote.currency)
    everything = [one.number for one in quote.lines.all()]
    show_lines(quote=quote, numbers=everything, at=timezone.now())
    told = documents.client_sections(fresh(quote), viewer)
    assert sum(len(section["lines"]) for section in told) == len(lines)
    assert len(options_of(quote)) == 1


def test_each_option_may_be_promised_for_its_own_day(cast):
    day = build.day(60)
    first = build.quote(cast, promised_date=day)
    second = option(first, cast, promised_date=build.day(40))
    assert (first.promised_date, second.promised_date) == (day, build.day(40))
    viewer = cast.viewer()
    assert f"promised for {day:%a %-d %b %Y}" in option_facts(first, viewer)
    assert option_facts(second, viewer).endswith(f"{build.day(40):%a %-d %b %Y}")
    unpromised = option(first, cast, layer_count=5)
    assert unpromised.promised_date is None
    assert "promised" not in option_facts(unpromised, viewer)
