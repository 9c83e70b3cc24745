"""A studio found by number or name, for whoever runs the server."""

import pytest

from studio.errors import Refused
from studio.selectors.studios import find_studio
from tests import make


def test_a_studio_is_found_by_number_and_by_name(cast, strangers):
    assert find_studio(str(strangers.studio.pk)) == strangers.studio
    assert find_studio(" Gullmarsh ") == cast.studio


@pytest.mark.parametrize("asked", ["Nowhere", "999999", "gullmarsh", "²", ""])
def test_the_refusal_lists_the_studios_by_name(cast, strangers, asked):
    listed = f"{strangers.studio.pk} Fernhaven, {cast.studio.pk} Gullmarsh"
    with pytest.raises(Refused, match=f"There are: {listed}"):
        find_studio(asked)


def test_a_name_that_two_share_asks_for_a_number(cast):
    twin = make.studio(name="Gullmarsh")
    listed = f"{cast.studio.pk} Gullmarsh, {twin.pk} Gullmarsh"
    with pytest.raises(Refused, match=f"Say a number: {listed}"):
        find_studio("Gullmarsh")
    assert find_studio(str(twin.pk)) == twin


def test_an_empty_server_says_so(db):
    with pytest.raises(Refused, match="none at all"):
        find_studio("Gullmarsh")
