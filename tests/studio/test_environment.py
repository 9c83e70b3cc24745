"""Readers of environment variables: what they take, and what they say of nonsense."""

import pytest

from studio.environment import (
    EnvironmentProblem,
    env_bool,
    env_choice,
    env_int,
    env_list,
    env_text,
)

NAME = "STUDIO_TRIAL"


def test_unset_and_empty_give_the_default(monkeypatch):
    assert env_text(NAME, "fine") == "fine"
    assert env_int(NAME, 7) == 7
    assert env_bool(NAME, default=True) is True
    assert env_list(NAME) == []
    monkeypatch.setenv(NAME, "")
    assert env_int(NAME, 7) == 7
    assert env_bool(NAME, default=True) is True
    assert env_choice(NAME, "a", ("a", "b")) == "a"


@pytest.mark.parametrize(
    ("text", "value"),
    [("1", True), ("TRUE", True), (" yes ", True), ("on", True)]
    + [("0", False), ("False", False), ("no", False), ("off", False)],
)
def test_switch(monkeypatch, text, value):
    monkeypatch.setenv(NAME, text)
    assert env_bool(NAME, default=not value) is value


def test_list_drops_empty_entries(monkeypatch):
    monkeypatch.setenv(NAME, "a.example, b.example,,")
    assert env_list(NAME) == ["a.example", "b.example"]


@pytest.mark.parametrize(
    ("read", "text", "words"),
    [
        (lambda: env_bool(NAME, default=False), "maybe", "write 1 or 0"),
        (lambda: env_int(NAME, 1), "1.5", "write a whole number"),
        (lambda: env_int(NAME, 1, low=2), "1", "the least is 2"),
        (lambda: env_choice(NAME, "a", ("a", "b")), "c", "write a or b"),
    ],
)
def test_nonsense_is_refused_by_name(monkeypatch, read, text, words):
    monkeypatch.setenv(NAME, text)
    with pytest.raises(EnvironmentProblem, match=f"{NAME} is .*{words}"):
        read()


def test_value_may_come_from_a_file(monkeypatch, tmp_path):
    (tmp_path / "secret").write_text("from the file\n")
    monkeypatch.setenv(f"{NAME}_FILE", str(tmp_path / "secret"))
    monkeypatch.setenv(NAME, "from the variable")
    assert env_text(NAME) == "from the file"


def test_file_that_is_not_there_is_named(monkeypatch, tmp_path):
    monkeypatch.setenv(f"{NAME}_FILE", str(tmp_path / "nothing"))
    with pytest.raises(EnvironmentProblem, match="nothing, which cannot be read"):
        env_text(NAME)
