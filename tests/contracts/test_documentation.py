"""What the documents describe exists, and what exists is described."""

import re

from django.core.management import get_commands

from studio.bootstrap import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
ENV_EXAMPLE = (ROOT / ".env.example").read_text(encoding="utf-8")
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "manage.py",
    "studio",
    "firing",
    "commissions",
    "templates",
    "tests",
    "docker-compose.yml",
}


def test_the_top_level_holds_what_was_fixed_and_dot_files():
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found - {"__pycache__"} == TOP_LEVEL


def test_every_command_of_ours_is_in_the_papers():
    ours = {name for name, app in get_commands().items() if app in TOP_LEVEL}
    assert ours
    missing = {name for name in ours if name not in README + DEVELOPERS}
    assert not missing, f"Commands nobody is told of: {missing}"


def test_every_command_in_the_papers_exists():
    told = set(re.findall(r"manage\.py ([a-z_]+)", README + DEVELOPERS))
    known = set(get_commands()) | {"test"}
    assert told <= known, f"Commands that do not exist: {told - known}"


def test_every_setting_from_the_environment_is_in_the_example_file():
    code = (ROOT / "studio" / "settings.py").read_text(encoding="utf-8")
    read = set(re.findall(r'env_\w+\(\s*"(STUDIO_\w+)"', code))
    assert len(read) > 5
    missing = {name for name in read if name not in ENV_EXAMPLE}
    assert not missing, f"Settings that .env.example does not show: {missing}"


def test_every_picture_in_the_readme_is_there():
    for name in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README):
        assert (ROOT / name).is_file(), f"{name} is missing: manage.py readme_pictures"


def test_the_readme_opens_with_the_job_in_one_paragraph():
    first, second = README.split("\n\n")[:2]
    assert first.startswith("# ")
    assert len(second) > 200
    assert not second.startswith(("#", "-", "!", "```"))
