"""The compose file: what it must hold, and compose's own check if that is installed.

No container engine is needed: ``docker compose config`` works without one.
"""

import os
import re
import shutil
import subprocess

import pytest
import yaml

from studio import bootstrap

PATH = bootstrap.ROOT / "docker-compose.yml"
PROGRAM = ("migrate", "web", "worker", "beat")
VALUES = {
    "STUDIO_SECRET_KEY": "s" * 60,
    "STUDIO_ALLOWED_HOSTS": "kiln.example",
    "POSTGRES_PASSWORD": "abc123",
}


@pytest.fixture(scope="module")
def compose():
    return yaml.safe_load(PATH.read_text())


@pytest.fixture(scope="module")
def dockerfile(compose):
    return compose["services"]["web"]["build"]["dockerfile_inline"]


def test_services(compose):
    assert set(compose["services"]) == {"postgres", "redis", *PROGRAM}
    assert set(compose["volumes"]) == {"database", "messages", "media", "backups"}


def test_everything_that_stays_up_has_a_health_check(compose):
    for name, service in compose["services"].items():
        if name != "migrate":  # runs once and ends
            assert service["healthcheck"]["test"], name
            assert service["restart"] == "unless-stopped", name
    assert compose["services"]["migrate"]["restart"] == "no"


def test_program_waits_for_its_data_and_its_migrations(compose):
    for name in ("web", "worker", "beat"):
        waits = compose["services"][name]["depends_on"]
        assert waits["postgres"]["condition"] == "service_healthy"
        assert waits["redis"]["condition"] == "service_healthy"
        assert waits["migrate"]["condition"] == "service_completed_successfully"


def test_no_secret_is_written_down_and_each_is_demanded(compose):
    text = PATH.read_text()
    for name in VALUES:
        uses = re.findall(r"\$\{" + name + r"([^}]*)\}", text)
        assert uses, name
        assert all(use.startswith(":?") for use in uses), name


def test_only_the_web_server_is_reachable_and_from_this_machine_only(compose):
    published = {
        name: service["ports"]
        for name, service in compose["services"].items()
        if "ports" in service
    }
    assert published == {"web": ["${WEB_ADDRESS:-127.0.0.1:8000}:8000"]}


def test_nothing_writes_clients_links_into_a_log(compose):
    assert not any(
        "access-log" in part for part in compose["services"]["web"]["command"]
    )


def test_image_takes_the_same_hashed_pins_and_runs_without_root(dockerfile):
    assert "COPY studio/requirements/base.txt" in dockerfile
    assert "--require-hashes" in dockerfile
    assert "--only-binary :all:" in dockerfile
    for package in bootstrap.PANGO_PACKAGES:
        assert package in dockerfile
    assert dockerfile.rstrip().splitlines()[-1] == "USER slowcool"


def test_image_copies_every_part_of_the_program_and_nothing_else(dockerfile):
    copied = re.findall(r"^COPY (\S+) ", dockerfile, flags=re.MULTILINE)
    assert all((bootstrap.ROOT / path).exists() for path in copied)
    assert set(copied) == {
        "studio/requirements/base.txt",
        "manage.py",
        "studio",
        "firing",
        "commissions",
        "templates",
    }


def test_variables_of_the_program_are_ones_that_the_settings_read(compose):
    settings = (bootstrap.ROOT / "studio" / "settings.py").read_text()
    for name in compose["services"]["web"]["environment"]:
        assert f'"{name}"' in settings, name


def test_example_file_names_only_variables_that_something_reads():
    read = PATH.read_text() + (bootstrap.ROOT / "studio" / "settings.py").read_text()
    example = (bootstrap.ROOT / ".env.example").read_text()
    for name in re.findall(r"^#? ?([A-Z_]+)=", example, flags=re.MULTILINE):
        assert name in read, name


def compose_command() -> list[str] | None:
    """Return how to call compose here, or None."""
    for command in (["docker", "compose"], ["docker-compose"]):
        if shutil.which(command[0]) and bootstrap.answers([*command, "version"]):
            return command
    return None


def config(env: dict[str, str]) -> subprocess.CompletedProcess[str]:
    command = compose_command()
    if command is None:
        pytest.skip("docker compose is not installed on this machine.")
    return subprocess.run(
        [*command, "--env-file", os.devnull, "--file", str(PATH), "config", "--quiet"],
        env={"PATH": os.environ["PATH"], "HOME": os.environ.get("HOME", "/")} | env,
        capture_output=True,
        text=True,
        check=False,
    )


def test_compose_itself_accepts_the_file():
    done = config(VALUES)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("missing", VALUES)
def test_compose_itself_demands_each_secret(missing):
    done = config({key: value for key, value in VALUES.items() if key != missing})
    assert done.returncode != 0
    assert f"write {missing} into .env" in done.stderr
