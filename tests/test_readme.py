"""What the README shows is what ships."""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_study_it_explains_is_the_one_that_ships() -> None:
    shown = re.search(r"```toml\n(.*?)```", README, re.DOTALL)
    assert shown is not None
    shipped = (ROOT / "studies/library/first-look.toml").read_text(encoding="utf-8")
    assert tomllib.loads(shown.group(1)) == tomllib.loads(shipped)


def test_its_pictures_exist() -> None:
    pictures = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README)
    assert pictures
    assert [picture for picture in pictures if not (ROOT / picture).is_file()] == []


def test_every_command_it_names_exists() -> None:
    from studies.command import main

    named = set(re.findall(r"^\.venv/bin/trivet (\w+)", README, re.MULTILINE))
    assert named
    assert named <= set(main.commands)


def test_its_links_lead_somewhere() -> None:
    links = [link for link in re.findall(r"\]\(([^)#]+)", README) if "://" not in link]
    assert len(links) > 15
    assert [link for link in links if not (ROOT / link).is_file()] == []
