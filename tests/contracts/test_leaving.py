"""A studio takes along everything it owns, kind by kind, and nothing else; all of it
can go.
"""

import datetime as dt
import hashlib
from decimal import Decimal
from pathlib import Path

import pytest
from django.apps import apps
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.db.models import FileField

from commissions.models import (
    Client,
    ClientLetter,
    Commission,
    Invoice,
    PromiseCheck,
    Quote,
    ShareLink,
)
from commissions.services.credit_notes import make_credit_note
from commissions.services.invoices import issue_invoice
from firing.models import (
    CalendarLink,
    Firing,
    FiringEvent,
    FiringWatch,
    FuseAnneal,
    Judgement,
    KilnChange,
    KilnComparison,
    KilnEvenness,
    KilnLogger,
    KilnUpkeep,
    Plan,
    PlanState,
    PushedChange,
    PushedCorrection,
    Reading,
    Schedule,
    SentFile,
    StressLimits,
    TypedProgramme,
)
from firing.plans.selectors.record import taken_record
from studio.models import (
    BenchTask,
    CurrencyChange,
    Delivery,
    Document,
    Export,
    Glass,
    HistoryEntry,
    Job,
    Kiln,
    Message,
    MessageWishes,
    Person,
    Phone,
    Picture,
    Piece,
    StockMove,
    StoppedAddress,
    Studio,
)
from studio.selectors import kinds
from studio.selectors.lists import tables
from studio.services.exporting import write_archive
from studio.services.importing import import_studio
from studio.services.leaving import delete_studio
from studio.tenancy import StudioOwned
from tests import make
from tests.cast import NOW

PDF = b"%PDF-1.7 invented"

# What never leaves: half of a token, or a hash that lets somebody in.
SECRETS = {
    "studio.person.password",
    "firing.kilnlogger.nonce",
    "firing.calendarlink.nonce",
    "commissions.sharelink.nonce",
    "studio.job.token",
    "studio.invitation.token_sha256",
}
LISTS = {
    "pieces",
    "layers",
    "passes",
    "task-times",
    "firings",
    "bookings",
    "clients",
    "quotes",
    "payments",
    "reminders",
    "stock-glass",
    "stock-materials",
    "stock-sheets",
    "stock-moves",
}


def silent(_):
    pass


def all_models():
    return [Studio, Person, *kinds.owned_models()]


@pytest.mark.parametrize("model", all_models(), ids=lambda model: model._meta.label)
def test_every_field_of_every_kind_is_kept_or_left_on_purpose(model):
    kind = kinds.kind_of(model)
    if kind.left_whole:
        return
    decided = {one.name for one in kinds.decidable(model)}
    assert {one.name for one in kind.fields()} | set(kind.left) == decided
    assert set(kind.kept) <= decided, "It keeps a field that is gone."
    assert set(kind.given) <= set(kind.left)
    assert set(kind.mended) <= set(kind.kept)


def test_every_model_that_belongs_to_a_studio_is_declared():
    owned = {m for m in apps.get_models() if issubclass(m, StudioOwned)}
    assert owned == set(kinds.owned_models())
    assert {kinds.kind_of(model).model for model in owned} == owned


def test_an_undecided_field_stops_the_export():
    kind = kinds.Kind(model=Kiln, kept=("name",))
    with pytest.raises(LookupError, match="Decide about studio.kiln"):
        kind.fields()


def test_no_kept_field_is_a_secret():
    kept = {
        f"{kind.label}.{name}" for kind in kinds.carried_kinds() for name in kind.kept
    }
    assert not kept & SECRETS
    suspects = ("password", "token", "nonce", "secret", "lease")
    assert not [name for name in kept if name.rpartition(".")[2].startswith(suspects)]


def test_every_relation_of_a_carried_kind_leads_to_a_carried_kind():
    carried = {kind.model for kind in kinds.carried_kinds()}
    for kind in kinds.carried_kinds():
        for one in kind.fields():
            if one.is_relation:
                assert one.related_model in carried, f"{kind.label}.{one.name}"


def test_the_lists_that_people_take_into_a_spreadsheet_are_there():
    assert {table.name for table in tables()} >= LISTS


@pytest.fixture
def studio(demo):
    """The demo's larger studio, with a record of every kind that the demo lacks."""
    found = demo
    owner = Person.objects.get(email="wren@example.org")
    kiln = Kiln.owned.for_studio(found).first()
    CurrencyChange.across_studios.create(
        studio=found, before="EUR", after="USD", rate=1, made_at=NOW, made_by=owner
    )
    logger = KilnLogger.across_studios.create(
        studio=found, kiln=kiln, name="Laptop", nonce="laptop-nonce", made_at=NOW
    )
    fired = Firing.owned.for_studio(found).filter(started_at__isnull=False).first()
    Reading.across_studios.create(
        studio=found, firing=fired, logger=logger, at=NOW, temperature_c=500
    )
    PushedCorrection.across_studios.create(
        studio=found,
        firing=fired,
        logger=logger,
        change=PushedChange.WERE_F,
        first_at=NOW,
        last_at=NOW,
        reading_count=1,
        at=NOW,
    )
    SentFile.across_studios.create(
        studio=found,
        firing=fired,
        file=ContentFile(b"0,20\n", name="kiln.csv"),
        file_name="kiln.csv",
        sha256="5" * 64,
        at=NOW,
    )
    KilnUpkeep.across_studios.create(
        studio=found,
        kiln=kiln,
        what="New kiln wash",
        every=20,
        counted="firings",
        since=NOW.date(),
        made_at=NOW,
    )
    KilnChange.across_studios.create(
        studio=found,
        kiln=kiln,
        changed_on=NOW.date(),
        part="elements",
        made_at=NOW,
    )
    KilnComparison.across_studios.create(
        studio=found,
        kiln=kiln,
        compared_on=NOW.date(),
        shown_c=500,
        measured_c=505,
        error_k=2,
        compared_by="thermocouple",
        made_at=NOW,
    )
    KilnEvenness.across_studios.create(
        studio=found,
        kiln=kiln,
        measured_on=NOW.date(),
        middle_c=482,
        edge_c=486,
        reach_mm=200,
        error_k=1,
        made_at=NOW,
    )
    running = Firing.owned.for_studio(found).filter(started_at__isnull=False).first()
    FiringEvent.across_studios.create(
        studio=found,
        firing=running,
        kind="short hold",
        segment="anneal soak",
        begins_at=NOW,
        ended_at=NOW,
        begins_c=482,
        worst_c=470,
        amount=1200,
        seen_at=NOW,
        changed_at=NOW,
        alarm_at=NOW,
        told_at=NOW,
        withdrawn_at=NOW,
        acknowledged_at=NOW,
        acknowledged_by=owner,
        note="Typed the hold again.",
    )
    MessageWishes.across_studios.create(
        studio=found,
        person=owner,
        mail=["firings"],
        phone=[],
        quiet_from=dt.time(22),
        quiet_to=dt.time(7),
        is_woken=False,
        morning_at=dt.time(6),
    )
    StoppedAddress.across_studios.create(studio=found, address="n@example.org", at=NOW)
    phone = Phone.across_studios.create(
        studio=found,
        person=owner,
        name="Phone",
        endpoint="https://p.example",
        made_at=NOW,
    )
    message = Message.across_studios.create(
        studio=found,
        person=owner,
        topic="today",
        key="k",
        title="T",
        text="x",
        path="/",
        made_at=NOW,
    )
    Delivery.across_studios.create(
        studio=found, message=message, phone=phone, made_at=NOW, send_at=NOW
    )
    someone = Client.owned.for_studio(found).first()
    ClientLetter.across_studios.create(
        studio=found,
        client=someone,
        commission=Commission.owned.for_studio(found).first(),
        to="n@example.org",
        subject="News",
        text="It is in the kiln.",
        at=NOW,
        by=owner,
    )
    CalendarLink.across_studios.create(
        studio=found, kind="studio", person=owner, nonce="calendar-nonce", made_at=NOW
    )
    FiringWatch.across_studios.create(studio=found, firing=running, next_at=NOW)
    TypedProgramme.across_studios.create(
        studio=found,
        firing=Firing.owned.for_studio(found).filter(started_at__isnull=False).first(),
        at=NOW,
        action="go on",
        programme={"start_c": 500, "segments": []},
        curve=[[0, 500], [3600, 50]],
        planned_before=[[0, 20], [3600, 50]],
        said="What the note says.",
        made_at=NOW,
        taken_back_at=NOW,
        taken_back_reason="The other kiln",
    )
    corrected = Invoice.owned.for_studio(found).order_by("pk").first()
    note = make_credit_note(
        invoice=corrected, amount=Decimal(5), reason="A corner", by=owner, at=NOW
    )
    issue_invoice(invoice=note, by=owner, at=NOW)
    make.invitation(studio=found)
    BenchTask.across_studios.create(
        studio=found, key="edges", name="Edges", number=1, minutes=200
    )
    StressLimits.across_studios.create(
        studio=found, temporary_mpa=5, residual_mpa=0.5, warning_mpa=9
    )
    FuseAnneal.across_studios.create(studio=found, rule="row")
    firing = Firing.owned.for_studio(found).first()
    Judgement.across_studios.create(
        studio=found,
        firing=firing,
        inputs_sha256="a" * 64,
        verdict="within limits",
        numbers={"readings": 3},
        made_at=NOW,
    )
    basis = {"judged_firing": firing.pk, "faces": "both"}
    Schedule.owned.for_studio(found).filter(pk=firing.schedule_id).update(basis=basis)
    quote = Quote.owned.for_studio(found).first()
    Document.across_studios.create(
        studio=found,
        kind="quote",
        subject_id=quote.pk,
        title="Quote",
        inputs_sha256="b" * 64,
        file=ContentFile(PDF, name="x.pdf"),
        made_at=NOW,
    )
    first, second = Piece.owned.for_studio(found).order_by("pk")[:2]
    # The maquette comes before the piece that it is of.
    Piece.owned.for_studio(found).filter(pk=first.pk).update(maquette_of=second)
    job = Job.across_studios.create(
        studio=found, name="x", token="t", created_at=NOW, run_after=NOW
    )
    PromiseCheck.across_studios.create(
        studio=found, quote=quote, why="asked", asked_at=NOW, job=job
    )
    Export.across_studios.create(studio=found, asked_at=NOW, asked_by=owner, job=job)
    return found


def written(studio, folder, name="studio.zip"):
    path = folder / name
    write_archive(studio=studio, path=path, told=silent, at=NOW)
    return path


def brought_in(path, **more):
    emails = Person.objects.values_list("email", flat=True)
    return import_studio(
        path=path, at=NOW, told=silent, admitted=list(emails), again=True, **more
    )


def seen(studio):
    """Return every kind's records with keys replaced by places: no code of the export.

    Files stand as the hash of what they hold, people as their address.
    """
    people = dict(Person.objects.values_list("pk", "email"))
    places = {
        model: {
            pk: place
            for place, pk in enumerate(
                model.owned.for_studio(studio)
                .order_by("pk")
                .values_list("pk", flat=True)
            )
        }
        for model in kinds.owned_models()
    }

    def told(row, field):
        if field.many_to_many:
            listed = getattr(row, field.name).order_by("pk")
            return [places[field.related_model][one.pk] for one in listed]
        value = getattr(row, field.attname)
        if field.related_model is Person:
            return people.get(value)
        if field.is_relation:
            return None if value is None else places[field.related_model][value]
        if isinstance(field, FileField):
            if not value:
                return ""
            with value.open("rb") as opened:
                return hashlib.sha256(opened.read()).hexdigest()
        return value

    found = {}
    for model in kinds.owned_models():
        fields = [*model._meta.concrete_fields, *model._meta.many_to_many]
        fields = [one for one in fields if one.name not in {"id", "studio"}]
        found[model._meta.label] = [
            {one.name: told(row, one) for one in fields}
            for row in model.owned.for_studio(studio).order_by("pk")
        ]
    return found, places


def expected_after(before, places):
    """Return what the README of the archive says comes out otherwise, as it should be."""
    for label in (
        "studio.Job",
        "studio.Export",
        "studio.Invitation",
        "firing.SentFile",
        "firing.FiringWatch",
        "firing.CalendarLink",
        "studio.Message",
        "studio.Phone",
        "studio.Delivery",
    ):
        del before[label]
    for logger in before["firing.KilnLogger"]:
        logger["revoked_at"] = NOW
    for plan in before["firing.Plan"]:
        plan["job"] = None
    for quote in before["commissions.Quote"]:
        quote["promise_facts"] = {}
    for commission in before["commissions.Commission"]:
        commission["request_key"] = ""
    return before


def without(found, *names):
    """Take out what holds keys or is made anew; the test looks at each by itself."""
    for name in names:
        label, _, field = name.rpartition(".")
        for row in found[label]:
            row.pop(field)


KEYED = (
    "commissions.PromiseCheck.job",
    "firing.KilnLogger.nonce",
    "commissions.ShareLink.nonce",
    "studio.HistoryEntry.subject",
    "studio.Document.subject_id",
    "studio.StockMove.cause",
    "firing.Schedule.basis",
    "firing.Plan.options",
    "firing.Plan.facts",
    "firing.Plan.facts_sha256",
    "commissions.Quote.inputs",
)


def test_a_studio_comes_back_equal(studio, tmp_path):
    before, old_places = seen(studio)
    labels = [model._meta.label for model in kinds.owned_models()]
    assert [label for label in labels if not before[label]] == []
    other = Studio.objects.exclude(pk=studio.pk).get()
    others, _ = seen(other)

    new = brought_in(written(studio, tmp_path)).studio

    after, new_places = seen(new)
    names = "name address email currency time_zone"
    for name in f"{names} temperature_unit length_unit created_at".split():
        assert getattr(new, name) == getattr(studio, name)
    assert not new.is_demo
    old_keys, new_keys = dict(old_places), dict(new_places)
    ordered = {job["name"] for job in after.pop("studio.Job")}
    assert ordered == {"firing.watch_plan", "commissions.check_promise"}
    assert after.pop("studio.Export") == []
    assert after.pop("firing.SentFile") == []
    assert after.pop("firing.FiringWatch") == []
    assert after.pop("firing.CalendarLink") == []
    for label in ("studio.Message", "studio.Phone", "studio.Delivery"):
        assert after.pop(label) == []
    assert after.pop("studio.Invitation") == []
    before = expected_after(before, old_places)
    same_subjects(studio, new, old_keys, new_keys)
    same_stored_keys(studio, new, old_keys, new_keys)
    without(before, *KEYED)
    without(after, *KEYED)
    assert after.keys() == before.keys()
    for label in before:
        assert after[label] == before[label], label
    assert seen(other)[0] == others


def same_subjects(old, new, old_places, new_places):
    """Every line of history and every paper is about the record in the same place."""
    models = {
        word: kinds.subject_model(word)
        for word in [
            "membership",
            "kiln",
            "booking",
            "firing",
            "plan",
            "schedule",
            "client",
            "commission",
            "stockmove",
            "of_pass",
            "fired_pass",
            "event",
        ]
    }

    def places(studio, at):
        found = []
        for entry in HistoryEntry.owned.for_studio(studio).order_by("pk"):
            word, _, key = entry.subject.rpartition(" ")
            if key.isdigit():
                found.append((word, at[models[word]][int(key)]))
            else:
                found.append(entry.subject)
        return found

    told = places(old, old_places)
    assert len({word for word, _ in filter(None, told)}) > 3
    assert places(new, new_places) == told

    def causes(studio, at):
        moves = StockMove.owned.for_studio(studio).exclude(cause="").order_by("pk")
        split = [one.cause.rpartition(" ") for one in moves]
        return [(word, at[models[word]][int(key)]) for word, _, key in split]

    assert {word for word, _ in causes(old, old_places)} == {
        "stockmove",
        "of_pass",
        "fired_pass",
        "event",
    }
    assert causes(new, new_places) == causes(old, old_places)
    paper = Document.owned.for_studio(new).get()
    was = Document.owned.for_studio(old).get()
    assert new_places[Quote][paper.subject_id] == old_places[Quote][was.subject_id]


def same_stored_keys(old, new, old_places, new_places):
    """Keys inside stored JSON name the records in the same places."""
    basis = (
        Schedule.owned.for_studio(new).exclude(basis__judged_firing=None).get().basis
    )
    was = Schedule.owned.for_studio(old).exclude(basis__judged_firing=None).get().basis
    assert (
        new_places[Firing][basis["judged_firing"]]
        == (old_places[Firing][was["judged_firing"]])
    )
    glass = dict(Glass.owned.for_studio(new).values_list("pk", "name"))
    for quote in Quote.owned.for_studio(new):
        work = quote.inputs["work"]
        assert glass[work["glass_id"]] == work["glass_name"]
    plan = Plan.owned.for_studio(new).get(state=PlanState.ACCEPTED)
    before = taken_record(Plan.owned.for_studio(old).get(state=PlanState.ACCEPTED))
    record = taken_record(plan)
    assert before["deliveries"]
    assert {
        new_places[Piece][int(key)]: day for key, day in record["deliveries"].items()
    } == {old_places[Piece][int(key)]: day for key, day in before["deliveries"].items()}
    pairs = zip(record["firings"], before["firings"], strict=True)
    for one, other in pairs:
        assert new_places[Kiln][one["kiln"]] == old_places[Kiln][other["kiln"]]
        assert one["starts_at"] == other["starts_at"]
    assert plan.facts
    assert len(plan.facts_sha256) == 64
    nonces = ShareLink.across_studios.values_list("nonce", flat=True)
    assert len(set(nonces)) == len(nonces)


def rows_of(studio):
    return {
        model._meta.label: model.across_studios.filter(studio=studio.pk).count()
        for model in kinds.owned_models()
    }


def files_on_disk(media_folder):
    return {path.name for path in media_folder.rglob("*") if path.is_file()}


def test_a_deleted_studio_is_gone_with_all_it_owned(
    studio, media_folder, django_capture_on_commit_callbacks
):
    other = Studio.objects.exclude(pk=studio.pk).get()
    glass = Glass.owned.for_studio(other).first()
    piece = make.piece(studio=other, glass=glass)
    Picture.across_studios.create(
        studio=other,
        piece=piece,
        image=ContentFile(b"RIFF", name="x.webp"),
        thumbnail=ContentFile(b"RIFF", name="x.webp"),
        width_px=4,
        height_px=3,
        at=NOW,
    )
    theirs = {Path(name).name for name in media_names(other)}
    before, rows = seen(other), rows_of(studio)
    assert all(rows.values()), "The fixture lacks a kind."

    with django_capture_on_commit_callbacks(execute=True):
        delete_studio(studio=Studio.objects.get(pk=studio.pk))

    assert not any(rows_of(studio).values())
    assert seen(other) == before
    assert files_on_disk(media_folder) == theirs
    assert [str(one) for one in Person.objects.all()] == ["Benta Corvaz"]


def media_names(studio):
    picture = Picture.owned.for_studio(studio).get()
    return picture.image.name, picture.thumbnail.name


def test_the_demo_goes_in_one_step_and_nothing_else_does(demo, cast):
    mine = seen(cast.studio)
    call_command("remove_demo")
    assert list(Studio.objects.all()) == [cast.studio]
    assert seen(cast.studio) == mine
    assert set(Person.objects.all()) == {
        cast.owner,
        cast.maker,
        cast.helper,
        cast.technician,
    }
    call_command("remove_demo")  # the second time there is nothing to do
