"""Checks of glasses that a higher app registers."""

import pytest

from studio.selectors import glass_checks


@pytest.fixture(autouse=True)
def no_checks(monkeypatch):
    monkeypatch.setattr(glass_checks, "_checks", [])
    monkeypatch.setattr(glass_checks, "_stack_checks", [])


def test_without_a_check_nothing_is_wrong():
    assert glass_checks.glass_problems("glass", "viewer") == []
    assert glass_checks.mixed_problems(["glass"], "viewer") == []


def test_every_check_is_asked_in_the_order_of_registering():
    first = glass_checks.check_of_glass(lambda glass, viewer: [glass, viewer])
    glass_checks.check_of_glass(lambda glass, viewer: [])
    glass_checks.check_of_glass(lambda glass, viewer: ["last"])
    assert first("one", "two") == ["one", "two"]
    assert glass_checks.glass_problems("g", "v") == ["g", "v", "last"]


def test_the_layers_of_a_stack_are_numbered_from_the_back_from_one():
    @glass_checks.check_of_stack
    def told(layers, viewer):
        return [f"{one.number} {one.glass} {viewer}" for one in layers]

    assert glass_checks.mixed_problems(["a", "b"], "v") == ["1 a v", "2 b v"]
