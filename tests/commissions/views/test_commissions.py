"""The pages of commissions and clients: created once, listed, changed, closed."""

from decimal import Decimal

import pytest
from django.urls import reverse

from commissions.models import Client, Commission
from studio.labour import USUAL_TASKS
from studio.models import Glass, Picture
from studio.selectors.bench_times import tasks_of
from tests import make
from tests.commissions import build
from tests.commissions.views.test_quotes import body_of


def typed(cast, **changes) -> dict:
    return {
        "client": "",
        "client_name": "Perpetua Vane",
        "client_email": "perpetua@example.org",
        "client_phone": "",
        "title": "Slack water",
        "brief": "The estuary, an hour before dark.",
        "width_mm": "12",
        "height_mm": "8 in",
        "layer_count": "20",
        "cap_count": "1",
        "technique": "painted",
        "passes_per_layer": "1",
        "glass": cast.glass.pk,
        "is_dammed": "on",
        "has_maquette": "",
        "maquette_layer_count": "",
        "maquette_width_mm": "",
        "maquette_height_mm": "",
        "gallery_cut_percent": "",
        "wanted_by_date": "",
    } | changes


NEW = reverse("commissions:commission_new")


def test_one_page_takes_the_client_and_the_request_in(cast, signed_in):
    response = signed_in().post(NEW, typed(cast))
    made = Commission.across_studios.get()
    assert response["Location"] == reverse("commissions:quote_new", args=[made.pk])
    assert made.client.email == "perpetua@example.org"
    assert made.width_mm == pytest.approx(304.8)
    assert made.height_mm == pytest.approx(203.2)
    assert made.studio == cast.studio
    assert made.maquette_layer_count == 0


def test_a_maquette_is_about_half_unless_written_otherwise(cast, signed_in):
    signed_in().post(NEW, typed(cast, has_maquette="on"))
    made = Commission.across_studios.get()
    assert made.maquette_layer_count == 10
    assert made.maquette_width_mm == pytest.approx(152.4)
    signed_in().post(
        NEW,
        typed(
            cast,
            client_name="Ines Rook",
            has_maquette="on",
            maquette_layer_count="9",
            maquette_width_mm="100 mm",
        ),
    )
    made = Commission.across_studios.get(client__name="Ines Rook")
    assert made.maquette_layer_count == 9
    assert made.maquette_width_mm == 100
    assert made.maquette_height_mm == pytest.approx(101.6)


def test_a_client_who_is_there_is_picked(cast, signed_in):
    client = build.client(cast)
    signed_in().post(NEW, typed(cast, client=client.pk, client_name=""))
    assert Commission.across_studios.get().client == client
    assert Client.across_studios.count() == 1


def test_a_reference_picture_is_kept(cast, signed_in):
    signed_in().post(NEW, typed(cast, reference_file=build.image()))
    assert Commission.across_studios.get().reference == Picture.across_studios.get()


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"client_name": ""}, "Choose a client above, or write a name."),
        ({"title": ""}, "Fill this in"),
        ({"width_mm": "wide"}, "Write a length such as"),
        ({"width_mm": "-3"}, "Write a length such as"),
        ({"height_mm": "1e999"}, "Write a length such as"),
        ({"layer_count": "0"}, "Write 1 or more"),
        ({"layer_count": "61"}, "Write 60 or less"),
        ({"layer_count": "2.5"}, "whole number"),
        ({"cap_count": "20"}, "At most 19"),
        ({"gallery_cut_percent": "nan"}, "Write a number"),
        ({"gallery_cut_percent": "95"}, "Write 90 or less"),
        ({"wanted_by_date": "soon"}, "Write a day"),
        ({"client_email": "nobody"}, "Write an e-mail address"),
        ({"glass": "999999"}, "valid choice"),
        ({"title": "a\x00b"}, "Null characters"),
    ],
)
def test_nonsense_is_named_and_what_was_typed_stays(cast, signed_in, wrong, words):
    response = signed_in().post(NEW, typed(cast, **wrong))
    told = response.content.decode()
    assert response.status_code == 422
    assert words in told
    assert "The estuary, an hour before dark." in told
    assert not Commission.across_studios.exists()
    assert not Client.across_studios.exists()


def test_a_file_that_is_no_picture_takes_nothing_in(cast, signed_in):
    bad = build.image()
    bad.seek(0)
    bad.truncate()
    bad.write(b"%PDF-1.7 not a picture")
    bad.seek(0)
    response = signed_in().post(NEW, typed(cast, reference_file=bad))
    assert response.status_code == 409
    told = response.content.decode()
    assert "not a picture" in told
    assert "Choose the picture again" in told
    assert not Client.across_studios.exists()


def test_somebody_elses_client_and_glass_cannot_be_chosen(cast, strangers, signed_in):
    foreign = build.client(strangers)
    for wrong in (
        {"client": foreign.pk, "client_name": ""},
        {"glass": strangers.glass.pk},
    ):
        response = signed_in().post(NEW, typed(cast, **wrong))
        assert response.status_code == 422
    assert not Commission.across_studios.exists()


def test_the_same_person_is_not_taken_in_twice(cast, signed_in):
    build.client(cast, name="Perpetua Vane", email="perpetua@example.org")
    response = signed_in().post(NEW, typed(cast))
    assert response.status_code == 422
    assert "is a client already" in response.content.decode()


def test_without_glass_the_page_says_where_to_start(cast, signed_in):
    Glass.across_studios.update(is_retired=True)
    assert "No glass yet" in signed_in().get(NEW).content.decode()


def test_lists_say_what_is_there_and_what_is_not(cast, signed_in):
    browser = signed_in("maker")
    address = reverse("commissions:commission_list")
    assert "No commissions yet" in browser.get(address).content.decode()
    quote = build.sent(cast)
    told = browser.get(address).content.decode()
    assert "Slack water" in told
    assert "Perpetua Vane" in told
    assert cast.viewer().money(quote.total) in told
    assert "Nothing found" in browser.get(address + "?q=zzz").content.decode()
    assert "Slack water" in browser.get(address + "?q=vane").content.decode()
    assert "Slack water" not in browser.get(address + "?show=closed").content.decode()


def test_the_list_asks_the_database_as_often_for_many_as_for_few(
    cast, signed_in, django_assert_max_num_queries
):
    browser = signed_in()
    address = reverse("commissions:commission_list")

    def queries() -> int:
        with django_assert_max_num_queries(60) as seen:
            assert browser.get(address).status_code == 200
        return len(seen)

    for _ in range(2):
        build.accepted(cast, of=build.commission(cast, **build.maquette()))
        build.sent(cast)
        build.commission(cast)
    few = queries()
    for _ in range(3):
        build.accepted(cast, of=build.commission(cast, **build.maquette()))
        build.sent(cast)
        build.commission(cast)
    assert queries() == few


def test_clients_are_listed_in_a_fixed_number_of_queries(
    cast, signed_in, django_assert_max_num_queries
):
    browser = signed_in()
    address = reverse("commissions:client_list")
    assert "No clients yet" in browser.get(address).content.decode()

    def queries() -> int:
        with django_assert_max_num_queries(60) as seen:
            browser.get(address)
        return len(seen)

    build.commission(cast)
    few = queries()
    for number in range(6):
        build.commission(cast, client=build.client(cast, name=f"Client {number}"))
    assert queries() == few


def test_clients_are_searched_by_name_and_address(cast, signed_in):
    build.client(cast, name="Ines Amsel")
    build.client(cast, name="Jo Terrace")
    browser, address = signed_in(), reverse("commissions:client_list")
    page = browser.get(address, {"q": "amSEL"}).content.decode()
    assert "Ines Amsel" in page
    assert "Jo Terrace" not in page
    for text in ("z" * 1000, "\x00%_'"):
        page = browser.get(address, {"q": text}).content.decode()
        assert "Nothing found" in page


def test_the_page_of_a_commission_leads_on(cast, signed_in):
    commission = build.commission(cast)
    address = reverse("commissions:commission_detail", args=[commission.pk])
    browser = signed_in()
    assert "Make a quote" in browser.get(address).content.decode()
    build.accepted(cast, of=commission)
    told = browser.get(address).content.decode()
    assert "Record a payment" in told
    assert "Private link" in told
    assert "/c/" in told


def test_it_is_changed_and_what_was_accepted_stands(cast, signed_in):
    commission = build.commission(cast)
    address = reverse("commissions:commission_edit", args=[commission.pk])
    browser = signed_in()
    shown = browser.get(address).context["form"]
    assert shown["width_mm"].value() == "11.811 in"
    body = typed(cast, client=commission.client_id, client_name="", title="Neap tide")
    assert browser.post(address, body).status_code == 302
    commission.refresh_from_db()
    assert commission.title == "Neap tide"
    quote = build.accepted(cast, of=commission)
    other = browser.post(address, typed(cast, client_name="Somebody else"))
    assert "stays their commission" in other.content.decode()
    assert browser.post(address, body | {"title": "Other"}).status_code == 302
    commission.refresh_from_db()
    assert commission.title == "Other"
    quote.refresh_from_db()
    assert quote.inputs["work"]["title"] == "Neap tide"


def test_it_is_closed_with_a_reason_and_reopened(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in()
    close = reverse("commissions:commission_close", args=[commission.pk])
    assert browser.post(close, {"reason": ""}).status_code == 422
    assert browser.post(close, {"reason": "Withdrawn"}).status_code == 302
    commission.refresh_from_db()
    assert commission.closed_reason == "Withdrawn"
    second = browser.post(close, {"reason": "Once more"})
    assert second.status_code == 409
    assert "closed already: Withdrawn" in second.content.decode()
    reopen = reverse("commissions:commission_reopen", args=[commission.pk])
    assert browser.post(reopen).status_code == 302
    commission.refresh_from_db()
    assert commission.closed_at is None


def test_a_clients_details_are_put_right(cast, signed_in):
    client = build.client(cast)
    address = reverse("commissions:client_edit", args=[client.pk])
    browser = signed_in()
    body = {
        "name": "Perpetua Hollis",
        "email": "x",
        "phone": "",
        "address": "",
        "tax_status": "exempt",
        "tax_number": "X 1",
    }
    wrong = browser.post(address, body)
    assert wrong.status_code == 422
    assert "Perpetua Hollis" in wrong.content.decode()
    browser.post(address, body | {"email": "p@example.org"})
    client.refresh_from_db()
    assert (client.name, client.email) == ("Perpetua Hollis", "p@example.org")
    assert (client.tax_status, client.tax_number) == ("exempt", "X 1")
    detail = reverse("commissions:client_detail", args=[client.pk])
    assert "p@example.org" in browser.get(detail).content.decode()


def test_rates_are_set_by_the_owner_and_kept_when_wrong(cast, signed_in):
    address = reverse("commissions:rates_edit")
    browser = signed_in()
    body = body_of(browser.get(address))
    assert body["energy_price_per_kwh"] == "0.25"
    wrong = browser.post(address, body | {"deposit_percent": 80, "stage_percent": 30})
    assert wrong.status_code == 422
    assert "at most 100" in wrong.content.decode()
    wrong = browser.post(address, body | {"rounding": "0.005"})
    assert "USD has no coin that small" in wrong.content.decode()
    changed = {"markup_percent": "35.5", "task_edges_minutes": "77"}
    assert browser.post(address, body | changed).status_code == 302
    assert build.rates(cast).markup_percent == Decimal("35.5")
    after = {task.key: task for task in tasks_of(cast.studio)}
    assert after["edges"].minutes == 77
    usual = {task.key: task for task in USUAL_TASKS}
    # What was left as it was shown, in minutes for a square foot, is still exact.
    assert after.keys() == usual.keys()
    assert all(after[key] == usual[key] for key in usual if key != "edges")
    assert browser.get(address).context["form"]["task_edges_minutes"].value() == "77"
    assert signed_in("maker").get(address).status_code == 403


def test_a_retired_glass_stays_in_its_own_request(cast, signed_in):
    commission = build.commission(cast)
    Glass.across_studios.filter(pk=cast.glass.pk).update(is_retired=True)
    make.glass(studio=cast.studio, name="Another")
    address = reverse("commissions:commission_edit", args=[commission.pk])
    choices = signed_in().get(address).context["form"].fields["glass"].queryset
    assert cast.glass in choices


@pytest.mark.parametrize("asked", ["²", "9" * 40, "-1", "x", "%00"])
def test_a_mistyped_address_still_opens_the_form(cast, signed_in, asked):
    assert signed_in().get(f"{NEW}?client={asked}").status_code == 200


def test_a_search_for_nonsense_finds_nothing(cast, signed_in):
    build.commission(cast)
    address = reverse("commissions:commission_list")
    response = signed_in().get(address + "?q=%00zz&show=%00&page=zz")
    assert response.status_code == 200
    assert "Nothing found" in response.content.decode()


def test_the_form_starts_with_the_client_one_came_from(cast, signed_in):
    client = build.client(cast)
    shown = signed_in().get(f"{NEW}?client={client.pk}").context["form"]
    assert shown["client"].value() == client.pk
