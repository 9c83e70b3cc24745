"""Deletes a studio: its owner asks for it, and a week later it is gone with all it
owns.

Records are deleted in reverse order of creation, because many protect those they depend
on; Django's own cascade meets those protections and stops.
"""

import logging
from collections.abc import Iterable
from datetime import datetime, timedelta
from functools import partial

from django.apps import apps
from django.db import transaction
from django.db.models import FileField

from studio.errors import Refused
from studio.jobs import on_forget
from studio.models import Membership, Person, Studio
from studio.outbox import remove_letters
from studio.selectors.kinds import in_order, owned_models, people_named, relations
from studio.services import history
from studio.services.devices import end_devices
from studio.services.locks import held
from studio.tenancy import StudioOwned
from studio.whole_files import remove_after_commit

log = logging.getLogger(__name__)

GRACE = timedelta(days=7)


@transaction.atomic
def ask_to_delete(
    *, studio: Studio, typed_name: str, by: Person | None, at: datetime
) -> None:
    """Have a studio deleted in a week.

    Raises
    ------
    Refused
        When what was typed is not its name.
    """
    current = held(Studio.objects).get(pk=studio.pk)
    if " ".join(typed_name.split()) != " ".join(current.name.split()):
        raise Refused(f"To delete the studio, type its name: {current.name}")
    if current.delete_at is not None:
        return
    current.delete_at = at + GRACE
    current.save(update_fields=["delete_at"])
    history.record(studio=current, by=by, at=at, what="Asked to delete the studio")


@transaction.atomic
def keep_studio(*, studio: Studio, by: Person | None, at: datetime) -> None:
    """Cancel the deletion of a studio."""
    current = held(Studio.objects).get(pk=studio.pk)
    if current.delete_at is None:
        return
    current.delete_at = None
    current.save(update_fields=["delete_at"])
    history.record(studio=current, by=by, at=at, what="Decided to keep the studio")


@on_forget
def delete_due(now: datetime) -> int:
    """Delete the studios whose week is over; return how many."""
    due = Studio.objects.filter(delete_at__lte=now).values_list("pk", flat=True)
    return sum(_delete_if(pk, now) for pk in list(due))


@transaction.atomic
def _delete_if(pk: int, now: datetime) -> bool:
    # Looked at again under the lock: its owner may just have kept it.
    studio = held(Studio.objects).filter(pk=pk, delete_at__lte=now).first()
    if studio is None:
        return False
    delete_studio(studio=studio)
    return True


@transaction.atomic
def delete_studio(*, studio: Studio) -> None:
    """Delete a studio now: its records, its files, and people who belong nowhere else."""
    models = in_order(owned_models())
    pk, files = studio.pk, _files_of(studio, models)
    people = _only_here(studio)
    for model in reversed(models):
        rows = model.across_studios.filter(studio=studio)
        for one in relations(model):
            if one.related_model is model:
                rows.exclude(**{one.name: None}).update(**{one.name: None})
        rows.delete()
    studio.delete()
    _delete_people(people)
    # Folders last; one stays that holds somebody else's file.
    remove_after_commit(*files, *{name.rpartition("/")[0] for name in files})
    transaction.on_commit(partial(remove_letters, pk))
    log.info("Studio %s was deleted", pk)


@transaction.atomic
def delete_demo() -> int:
    """Delete the demo's studios at once; return how many there were."""
    demos = list(Studio.objects.filter(is_demo=True))
    for studio in demos:
        delete_studio(studio=studio)
    return len(demos)


def _files_of(studio: Studio, models: Iterable[type[StudioOwned]]) -> set[str]:
    """Return the names on disk of every file that a studio's records hold."""
    return {
        name
        for model in models
        for one in model._meta.concrete_fields
        if isinstance(one, FileField)
        for name in model.across_studios.filter(studio=studio).values_list(
            one.name, flat=True
        )
        if name
    }


def _only_here(studio: Studio) -> list[Person]:
    """Return the people named here who belong to no other studio and run nothing."""
    elsewhere = Membership.across_studios.exclude(studio=studio).values("person")
    named = Person.objects.filter(pk__in=people_named(studio))
    return list(
        named.exclude(pk__in=elsewhere).filter(is_staff=False, is_superuser=False)
    )


def _delete_people(people: list[Person]) -> None:
    """Delete accounts, and their counts of failed sign-ins."""
    emails = [person.email for person in people]
    for model in apps.get_app_config("axes").get_models():
        if any(one.name == "username" for one in model._meta.fields):
            model._default_manager.filter(username__in=emails).delete()
    for person in people:
        end_devices(person=person)
        person.delete()
