"""Other work in a load: added, given to its maker, taken out, never silently."""

import pytest
from django.utils import timezone

from firing.firings.services.firings import cancel_firing
from firing.firings.services.others_work import add_work, change_work
from firing.models import Firing, LoadItem
from studio.errors import Refused
from studio.models import HistoryEntry, KilnUser
from tests.firing import build


@pytest.fixture
def potter(cast):
    return KilnUser.across_studios.create(studio=cast.studio, name="Marl Row")


@pytest.fixture
def firing(cast):
    return build.enamel(kiln=cast.kiln, glass=cast.glass)


def add(firing, cast, **more):
    asked = {"description": "Bowl", "kiln_user": None} | more
    return add_work(firing=firing, by=cast.helper, at=timezone.now(), **asked)


def change(item, cast, **more):
    asked = {"description": item.description, "kiln_user": item.kiln_user} | more
    change_work(item=item, by=cast.helper, at=timezone.now(), **asked)


def said(cast):
    entries = HistoryEntry.owned.for_studio(cast.studio).order_by("-pk")
    return entries.first().what


def test_what_is_added_and_whose_is_in_the_history(cast, firing, potter):
    item = add(firing, cast, kiln_user=potter)
    assert item.kiln_user == potter
    assert said(cast).endswith("Added “Bowl” (Marl Row)")


def test_whose_it_is_can_be_corrected_and_taken_back(cast, firing, potter):
    item = add(firing, cast)
    change(item, cast, kiln_user=potter)
    item.refresh_from_db()
    assert item.kiln_user == potter
    assert said(cast).endswith("“Bowl” is “Bowl” (Marl Row)")
    change(item, cast, kiln_user=None, description="Plate")
    item.refresh_from_db()
    assert (item.description, item.kiln_user) == ("Plate", None)


def test_what_was_not_in_it_comes_out(cast, firing, potter):
    item = add(firing, cast, kiln_user=potter)
    change(item, cast, is_out=True)
    assert not LoadItem.across_studios.filter(pk=item.pk).exists()
    assert said(cast).endswith("Took out “Bowl” (Marl Row)")
    with pytest.raises(Refused, match="took it out meanwhile"):
        change(item, cast, is_out=True)


def test_the_last_thing_stays(cast, firing):
    item = add(firing, cast)
    firing.items.exclude(pk=item.pk).delete()
    with pytest.raises(Refused, match="Nothing else is in this firing"):
        change(item, cast, is_out=True)


def test_a_layer_is_its_pieces(cast, firing, potter):
    with pytest.raises(Refused, match="belongs to its maker"):
        change(firing.items.first(), cast, kiln_user=potter)


def test_nothing_goes_into_a_cancelled_firing(cast, firing):
    cancel_firing(firing=firing, reason="Slip", by=None, at=timezone.now())
    with pytest.raises(Refused, match="is cancelled"):
        add(Firing.across_studios.get(pk=firing.pk), cast)


def test_a_kiln_user_of_another_studio_is_refused(cast, strangers, firing):
    stranger = KilnUser.across_studios.create(studio=strangers.studio, name="Else")
    with pytest.raises(ValueError, match="another studio"):
        add(firing, cast, kiln_user=stranger)
