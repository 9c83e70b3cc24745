"""Every record belongs to one studio, and nothing reads across studios by accident."""

import pytest
from django.apps import apps

from studio.models import Kiln, Piece
from studio.tenancy import StudioOwned, UnscopedRead, same_studio
from tests import make

SHARED_BY_ALL_STUDIOS = {
    "studio.Studio",
    "studio.Person",
    "studio.SentOnce",
    "studio.SignedIn",
}
OURS = ("studio", "firing", "commissions")


def our_models():
    return [
        model
        for label in OURS
        for model in apps.get_app_config(label).get_models(include_auto_created=False)
    ]


@pytest.mark.parametrize("model", our_models(), ids=lambda model: model._meta.label)
def test_every_model_belongs_to_a_studio_or_is_named_here(model):
    if model._meta.label in SHARED_BY_ALL_STUDIOS:
        assert not issubclass(model, StudioOwned)
    else:
        assert issubclass(model, StudioOwned)
        assert not model._meta.get_field("studio").null


def test_the_owned_manager_refuses_to_read_without_a_studio():
    with pytest.raises(UnscopedRead):
        Piece.owned.all()
    with pytest.raises(UnscopedRead):
        Piece.owned.filter(pk=1)
    with pytest.raises(UnscopedRead):
        Piece.owned.for_studio(None)


def test_for_studio_gives_only_its_own(cast, strangers):
    assert list(Kiln.owned.for_studio(cast.studio)) == [cast.kiln]
    assert list(Kiln.owned.for_studio(strangers.studio)) == [strangers.kiln]


def test_records_of_two_studios_are_not_joined(cast, strangers):
    with pytest.raises(ValueError, match="another studio"):
        same_studio(cast.studio, cast.glass, strangers.glass)
    with pytest.raises(ValueError, match="another studio"):
        make.piece(studio=cast.studio, glass=strangers.glass)


def test_records_of_one_studio_and_none_at_all_may_be_joined(cast):
    same_studio(cast.studio)
    same_studio(cast.studio, cast.glass, None, cast.kiln)


def test_the_one_that_differs_is_found_behind_others_and_named(cast, strangers):
    other = strangers.glass
    with pytest.raises(ValueError, match=f"^Glass {other.pk} belongs to another"):
        same_studio(cast.studio, None, cast.glass, other)
