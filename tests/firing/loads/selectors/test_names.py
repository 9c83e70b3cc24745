"""Firings' names tell them apart."""

import pytest

from firing.loads.selectors.names import firing_name


@pytest.mark.parametrize(
    ("kind", "inside", "name"),
    [
        (
            "enamel",
            {"layers": [("Mud flats, last light", 8), ("Mud flats, last light", 6)]},
            "Enamel: Mud flats 6, 8",
        ),
        (
            "enamel",
            {"layers": [("Ebb", n) for n in (1, 2, 3, 5)] + [("Reed edge", 13)]},
            "Enamel: Ebb 1 to 3, 5 + Reed edge 13",
        ),
        (
            "full fuse",
            {"stacks": ["Spring tide, dawn"]},
            "Full fuse and anneal: Spring tide, dawn",
        ),
        (
            "slump",
            {"stacks": ["Tide " * 20]},
            "Slump: Tide Tide Tide Tide Tide Tide Tide Tide Tide Ti…",
        ),
        ("test", {"others": list("abcde")}, "Test: a + b + c + 2 more"),
        ("slump", {}, "Slump"),
    ],
)
def test_a_name_says_the_kind_and_what_is_in_it(kind, inside, name):
    assert firing_name(kind, **inside) == name
