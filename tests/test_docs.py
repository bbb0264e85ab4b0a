"""Docs are true: links lead somewhere, commands exist, references are complete."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

from django.core.management import get_commands, load_command_class

ROOT = Path(__file__).resolve().parent.parent
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
LINK = re.compile(r"\]\((?!https?:|#|mailto:)([^)#]+)")
COMMAND = re.compile(r"manage\.py ([a-z_]+)")
SETTING = re.compile(r"""(?:environ\.get|_flag|_words)\(\s*"([A-Z_]+)\"""")
CODE = re.compile(r"""(?:because|\.add)\(\s*"([a-z]+(?:-[a-z]+)+)\"""")


def test_links_lead_somewhere():
    dead = [
        f"{page.relative_to(ROOT)}: {link}"
        for page in PAGES
        for link in LINK.findall(page.read_text())
        if not (page.parent / link).exists()
    ]
    assert not dead


def test_every_page_is_listed():
    """By the front page of its folder where there is one, which the front page of docs lists."""
    front = ROOT / "docs/README.md"
    unlisted = []
    for page in sorted((ROOT / "docs").rglob("*.md")):
        own = page.parent / "README.md"
        listing = own if own.exists() and page != own else front
        links = {(listing.parent / link).resolve() for link in LINK.findall(listing.read_text())}
        if page not in {*links, front}:
            unlisted.append(f"{page.relative_to(ROOT)}: not in {listing.relative_to(ROOT)}")
    assert not unlisted


def test_commands_exist():
    unknown = {
        f"{page.relative_to(ROOT)}: {command}"
        for page in PAGES
        for command in COMMAND.findall(page.read_text())
        if command not in get_commands()
    }
    assert not unknown


def test_commands_can_be_typed_as_they_stand():
    """Every command in a block of shell is given what it needs, and nothing else."""
    typed = [
        shlex.split(line.strip().rstrip(")"))
        for page in PAGES
        for block in re.findall(r"^ *```sh\n(.*?)^ *```", page.read_text(), re.S | re.M)
        for line in re.findall(r"manage\.py (.*)", block)
    ]
    assert len(typed) > 8
    for name, *given in typed:
        command = load_command_class(get_commands()[name], name)
        command.create_parser("manage.py", name).parse_args(given)


def test_the_readme_opens_with_the_job_and_two_commands():
    text = (ROOT / "README.md").read_text()
    blocks = re.findall(r"^```sh\n(.*?)^```", text, re.S | re.M)
    assert [block.count("\n") for block in blocks[:2]] == [1, 1]
    assert "manage.py demo" in blocks[0]
    assert "-m pytest" in blocks[1]


def test_every_setting_is_documented():
    wanted = set(SETTING.findall((ROOT / "recycling/settings.py").read_text()))
    page = (ROOT / "docs/reference/settings.md").read_text()
    assert wanted
    assert not [name for name in wanted if f"`{name}`" not in page]


def test_every_refusal_is_documented():
    page = (ROOT / "docs/reference/errors.md").read_text()
    sources = [
        path for room in ("recycling", "api", "shared") for path in (ROOT / room).rglob("*.py")
    ]
    codes = {code for path in sources for code in CODE.findall(path.read_text())}
    assert len(codes) > 50
    assert not sorted(code for code in codes if f"`{code}`" not in page)


def test_the_pages_of_stages_and_formulas_are_fresh():
    from recycling.management.commands.reference import PAGES as generated

    for name, write in generated.items():
        page = ROOT / "docs/reference" / name
        assert page.read_text() == write(), f"run manage.py reference: {name} is out of date"
