"""Typed readers of environment variables that refuse nonsense by name.

Pure standard library, used only by the settings. Every variable starts with
``STUDIO_``.
"""

import os
from collections.abc import Collection
from pathlib import Path

TRUE = {"1", "true", "yes", "on"}
FALSE = {"0", "false", "no", "off"}


class EnvironmentProblem(Exception):
    """An environment variable is missing or has an unusable value."""


def env_text(name: str, default: str = "") -> str:
    """Return the variable, or the text of the file named by NAME_FILE."""
    path = os.environ.get(f"{name}_FILE")
    if path:
        try:
            return Path(path).read_text(encoding="utf-8").strip()
        except OSError as problem:
            raise EnvironmentProblem(
                f"{name}_FILE names {path}, which cannot be read: {problem.strerror}."
            ) from problem
    return os.environ.get(name, default).strip()


def env_bool(name: str, *, default: bool) -> bool:
    """Read a switch: 1/true/yes/on or 0/false/no/off."""
    value = env_text(name).lower()
    if not value:
        return default
    if value in TRUE:
        return True
    if value in FALSE:
        return False
    raise EnvironmentProblem(f"{name} is {value!r}; write 1 or 0.")


def env_choice(name: str, default: str, choices: Collection[str]) -> str:
    """Read one of a few words, spelled as in `choices`."""
    value = env_text(name) or default
    if value not in choices:
        raise EnvironmentProblem(f"{name} is {value!r}; write {' or '.join(choices)}.")
    return value


def env_int(name: str, default: int, *, low: int = 0) -> int:
    """Read a whole number that is at least `low`."""
    value = env_text(name)
    if not value:
        return default
    try:
        number = int(value)
    except ValueError as problem:
        raise EnvironmentProblem(
            f"{name} is {value!r}; write a whole number."
        ) from problem
    if number < low:
        raise EnvironmentProblem(f"{name} is {number}; the least is {low}.")
    return number


def env_list(name: str) -> list[str]:
    """Read a list separated by commas; empty entries are dropped."""
    return [part.strip() for part in env_text(name).split(",") if part.strip()]
