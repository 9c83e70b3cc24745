"""Clients by name with what is open for them, and who is meant by a name."""

import pytest
from django.utils import timezone

from commissions.selectors.clients import client_named, clients
from commissions.services import closing
from tests.commissions import build


def test_clients_come_by_name_with_what_is_open(cast, strangers):
    build.client(strangers, name="Aldous Fen")
    vane, brack = (build.client(cast, name=name) for name in ("Vane", "Brack"))
    build.commission(cast, client=vane)
    closed = build.commission(cast, client=vane, title="Given up")
    closing.close_commission(
        commission=closed, reason="Too dear", by=cast.owner, at=timezone.now()
    )
    assert [
        (one.name, one.commission_count, one.open_count) for one in clients(cast.studio)
    ] == [("Brack", 0, 0), ("Vane", 2, 1)]
    assert list(clients(cast.studio)) == [brack, vane]


@pytest.fixture
def vanes(cast):
    """Two clients of one name, each with an address."""
    return [
        build.client(cast, name="Perpetua Vane", email=f"{where}@example.org")
        for where in ("first", "second")
    ]


@pytest.mark.parametrize("name", ["Perpetua Vane", "perpetua VANE"])
def test_a_name_alone_means_whoever_came_first_with_it(cast, vanes, name):
    assert client_named(cast.studio, name=name, email="") == vanes[0]


def test_an_address_tells_people_of_one_name_apart(cast, vanes):
    def found(email):
        return client_named(cast.studio, name="Perpetua Vane", email=email)

    assert found("Second@Example.org") == vanes[1]
    assert found("third@example.org") is None, "somebody new"


def test_a_part_of_a_name_and_another_studios_client_are_not_meant(
    cast, strangers, vanes
):
    assert client_named(cast.studio, name="Perpetua", email="") is None
    assert client_named(strangers.studio, name="Perpetua Vane", email="") is None
