"""The migrate command, on databases of older versions."""

from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from commissions import guard as invoice_guard
from commissions.models import Commission, PromiseCheck, Quote, ShareLink
from commissions.selectors.parts import nets_of_quote
from commissions.selectors.rates import QuoteChoices
from firing import guard as kiln_guard
from studio.models import (
    Document,
    HistoryEntry,
    Job,
    Material,
    StockMove,
    StockSheet,
)
from studio.selectors.bench_times import tasks_of
from studio.selectors.stock import material_balance
from studio.services import stock
from tests import make
from tests.cast import NOW
from tests.commissions import build

pytestmark = pytest.mark.django_db
GUARDS = (kiln_guard, invoice_guard)


@pytest.fixture
def old_tables(transactional_db):
    """Let a test change tables, as the command does: without the triggers on them."""
    for one in GUARDS:
        one.drop_triggers(using="default")
    yield
    for one in GUARDS:
        one.create_triggers(using="default")


def remembered_as(*steps):
    recorder = MigrationRecorder(connection)
    for app, name in recorder.applied_migrations():
        if app == "studio":
            recorder.record_unapplied(app, name)
    for step in steps:
        recorder.record_applied("studio", step)


def test_a_database_that_lacks_some_old_steps_is_refused_and_left_alone():
    remembered_as("0001_initial", "0002_bench_hours")
    before = MigrationRecorder(connection).applied_migrations().keys()
    with pytest.raises(CommandError, match=r"older version.*git checkout .*come back"):
        call_command("migrate", verbosity=0)
    assert MigrationRecorder(connection).applied_migrations().keys() == before


def test_a_database_that_has_taken_all_old_steps_goes_on():
    names = (
        "0001_initial 0002_bench_hours 0003_glass_expansion 0004_kiln_offset "
        "0005_bench_minutes_and_due_dates 0006_job_lookups 0007_leaving"
    )
    # SQLite changes no table inside a test: the steps since then stay taken.
    taken = MigrationRecorder(connection).applied_migrations()
    since = {name for app, name in taken if app == "studio"} - {"0001_tables"}
    remembered_as(*names.split(), *since)
    call_command("migrate", verbosity=0)
    applied = MigrationRecorder(connection).applied_migrations()
    assert ("studio", "0001_tables") in applied


@pytest.mark.database
@pytest.mark.django_db(transaction=True)
def test_what_a_pass_was_painted_with_is_carried_over(cast, old_tables):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=3)
    painted, bare = make.passes_of(piece)[:2]
    grey = Material.across_studios.create(
        studio=cast.studio, name="Grey", kind="enamel", unit="g", cost_per_unit=1
    )
    before = [("studio", "0010_pictures_for_the_depth_view")]
    executor = MigrationExecutor(connection)
    newest = executor.loader.graph.leaf_nodes()
    executor.migrate(before)
    try:
        old = executor.loader.project_state(before).apps.get_model("studio", "Pass")
        old._base_manager.filter(pk=painted.pk).update(material=grey.pk)
    finally:
        MigrationExecutor(connection).migrate(newest)
    assert list(painted.materials.all()) == [grey]
    assert not bare.materials.exists()


@pytest.mark.database
@pytest.mark.django_db(transaction=True)
def test_what_was_typed_as_in_stock_is_the_first_count(cast, old_tables):
    grey = Material.across_studios.create(
        studio=cast.studio,
        name="Grey",
        kind="enamel",
        unit="g",
        cost_per_unit=Decimal("0.31"),
        on_hand=Decimal("640.5"),
    )
    Material.across_studios.create(
        studio=cast.studio, name="Empty", kind="enamel", unit="g", cost_per_unit=1
    )
    executor = MigrationExecutor(connection)
    newest = executor.loader.graph.leaf_nodes()
    try:
        executor.migrate([("studio", "0015_studio_email")])
    finally:
        MigrationExecutor(connection).migrate(newest)
    move = StockMove.across_studios.get()
    assert (move.material, move.kind, move.amount) == (grey, "count", Decimal("640.5"))
    assert (move.unit, move.unit_cost) == ("g", Decimal("0.31"))
    assert material_balance(grey).on_hand == Decimal("640.5")


@pytest.mark.database
@pytest.mark.django_db(transaction=True)
def test_what_was_taken_gets_the_cost_of_its_moment(cast, old_tables):
    grey = Material.across_studios.create(
        studio=cast.studio, name="Grey", kind="enamel", unit="g", cost_per_unit=2
    )
    dear = {"material": grey, "by": None, "at": cast.studio.created_at}
    less = {"item": grey, "amount": Decimal(-5), "why": "Spilt", "by": None}
    stock.correct_stock(**less, at=cast.studio.created_at)
    stock.receive_material(amount=Decimal(15), unit_cost=Decimal(4), **dear)
    stock.correct_stock(**less, at=cast.studio.created_at)
    stock.receive_material(amount=Decimal(10), unit_cost=Decimal(6), **dear)
    stock.correct_stock(**less, at=cast.studio.created_at)
    sheets = {"width_mm": 1000, "height_mm": 500, "batch": "", "by": None}
    stock.receive_sheets(
        glass=cast.glass,
        count=2,
        cost_per_m2=Decimal(80),
        at=cast.studio.created_at,
        **sheets,
    )
    rack = StockSheet.across_studios.get()
    less["item"] = rack
    stock.correct_stock(**less, at=cast.studio.created_at)
    moves = StockMove.across_studios.order_by("pk")
    kept = list(moves.values_list("unit_cost", flat=True))
    executor = MigrationExecutor(connection)
    newest = executor.loader.graph.leaf_nodes()
    try:
        executor.migrate([("studio", "0019_kiln_users")])
        moves.filter(kind="correction").update(unit_cost=None)
    finally:
        MigrationExecutor(connection).migrate(newest)
    # 15 at 4 after less than nothing; of the 10 left 5 went; 5 at 4 and 10 at 6: 5.3333.
    assert kept == [2, 4, 4, 6, Decimal("5.3333"), 80, 80]
    # What it cost before anything was delivered is not known any more.
    assert list(moves.values_list("unit_cost", flat=True)) == [4, *kept[1:]]


@pytest.mark.django_db(transaction=True)
def test_minutes_become_rules_and_older_quotes_read_as_newer_ones(cast, old_tables):
    quote = build.sent(cast, shows_lines=True)
    rows = list(quote.lines.values("number", "section", "label", "amount"))
    inputs, choices = quote.inputs, quote.inputs["choices"]
    client = quote.commission.client_id
    for name in ("tasks", "rounding", "tax_included", "enamel_kiln"):
        del choices[name]
    choices |= {
        "margin_percent": choices.pop("markup_percent"),
        "painting_minutes_per_pass": 75,
        "cutting_minutes_per_layer": 10,
        "loading_minutes_per_firing": 30,
        "assembly_minutes": 180,
        "coldwork_minutes": 240,
    }
    for one in (
        ShareLink,
        PromiseCheck,
        Document,
        Job,
        Quote,
        Commission,
        HistoryEntry,
    ):
        one.across_studios.filter(studio=cast.studio).delete()
    executor = MigrationExecutor(connection)
    newest = executor.loader.graph.leaf_nodes()
    try:
        old = executor.migrate(
            [("studio", "0016_stock_ledger"), ("commissions", "0007_invoices")]
        )

        def create(app, name, **values):
            model = old.apps.get_model(app, name)
            return model._base_manager.create(studio_id=cast.studio.pk, **values)

        create("studio", "BenchMinutes", coldwork_minutes=480)
        commission = create(
            "commissions",
            "Commission",
            client_id=client,
            title="Slack water",
            width_mm=300,
            height_mm=200,
            layer_count=6,
            painting_minutes_per_pass=75,
            glass_id=cast.glass.pk,
            created_at=NOW,
        )
        made = create(
            "commissions",
            "Quote",
            commission=commission,
            version=1,
            currency="USD",
            net=quote.net,
            tax=quote.tax,
            tax_name="Sales tax",
            total=quote.total,
            inputs=inputs,
            valid_until_date=NOW.date(),
            shows_lines=True,
            made_at=NOW,
        )
        for row in rows:
            section = {"mark-up": "margin"}.get(row["section"], row["section"])
            create(
                "commissions",
                "QuoteLine",
                **row | {"section": section},
                quote=made,
                quantity=1,
                unit="h",
                unit_price=row["amount"],
            )
    finally:
        MigrationExecutor(connection).migrate(newest)
    rules = {task.key: task for task in tasks_of(cast.studio)}
    # Twice the usual 240 minutes of cold work: twice as slow at both of its tasks.
    assert rules["edges"].minutes_per_m2 == 9000
    assert rules["faces"].minutes_per_m2 == 4000
    assert rules["painting"].minutes_each == 15
    moved = Quote.across_studios.get(pk=made.pk)
    then = QuoteChoices.from_json(moved.inputs["choices"])
    assert {task.key: task.minutes_each for task in then.tasks}["painting"] == 75
    assert then.markup_percent == 20
    assert moved.to_studio == moved.total
    assert list(moved.lines.values("number", "section", "label", "amount")) == rows
    assert moved.lines.get(section="kiln time", key="full fuse").is_shown
    assert nets_of_quote(moved)[0].net == moved.net
