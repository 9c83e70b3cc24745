"""Values that migrations move from one record to another arrive there."""

import datetime as dt
from importlib import import_module

import pytest
from django.apps import apps
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from studio.models import Piece
from studio.selectors.due_dates import due_dates
from tests import make
from tests.commissions import build

MINUTES = {
    "cutting_minutes_per_layer": 11,
    "painting_minutes_per_pass": 93,
    "loading_minutes_per_firing": 37,
    "assembly_minutes": 181,
    "coldwork_minutes": 245,
}


def migrate(*targets):
    executor = MigrationExecutor(connection)
    executor.migrate(list(targets))
    return executor.loader.project_state(list(targets)).apps


@pytest.fixture
def before(transactional_db):
    """Return the models as they were before the minutes were the studio's."""
    yield migrate(("commissions", "0002_promise_checks"))
    migrate(*MigrationExecutor(connection).loader.graph.leaf_nodes("commissions"))


def test_the_minutes_go_down_to_the_studio_and_up_again(before):
    studio, other = make.studio(), make.studio(name="Other")
    books = before.get_model("commissions", "PriceBook").across_studios
    books.create(studio_id=studio.pk, **MINUTES)
    after = migrate(("commissions", "0004_price_book_without_minutes"))
    minutes = after.get_model("studio", "BenchMinutes").across_studios
    assert minutes.values(*MINUTES).get(studio_id=studio.pk) == MINUTES
    assert not minutes.filter(studio_id=other.pk).exists()
    minutes.filter(studio_id=studio.pk).update(coldwork_minutes=300)
    migrate(("commissions", "0002_promise_checks"))
    expected = MINUTES | {"coldwork_minutes": 300}
    assert books.values(*MINUTES).get(studio_id=studio.pk) == expected


def test_the_days_of_accepted_quotes_are_written_on_their_pieces(cast, strangers):
    for title, agreed in (("Kept", None), ("Agreed", build.day(120))):
        quote = build.accepted(
            cast,
            of=build.commission(cast, title=title, **build.maquette()),
            promised_date=build.day(90),
        )
        quote.agreed_date = agreed
        quote.save()
    closed = build.accepted(cast, promised_date=build.day(90)).commission
    closed.closed_at = closed.created_at + dt.timedelta(hours=1)
    closed.save()
    Piece.across_studios.update(due_date=None)
    fill = import_module("commissions.migrations.0005_due_dates_of_pieces")
    fill.tell_due_dates(apps, connection.schema_editor())
    assert sorted(due_dates(cast.studio).values()) == [build.day(90), build.day(120)]
    titles = Piece.across_studios.filter(due_date__isnull=False)
    assert {piece.title for piece in titles} == {"Kept", "Agreed"}
