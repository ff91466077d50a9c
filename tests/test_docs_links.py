"""The documents as their reader has them: each link leads somewhere, and each blueprint is described, with a picture of its form."""

import re
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "blueprints" / "README.md", *(ROOT / "docs").glob("*.md")]
BLUEPRINTS = sorted((ROOT / "blueprints" / "automation" / "chargehand").glob("*.yaml"))
HEAVIEST_PICTURE = 150_000
"""Bytes; a page with all of them is still quick to open."""


def prose(page: Path) -> str:
    """A page without its examples."""
    return re.sub(r"^ *```.*?^ *```", "", page.read_text(), flags=re.DOTALL | re.MULTILINE)


def anchors(page: Path) -> set[str]:
    """What can be linked to in a page: its headings as the places that show Markdown make them (common practice)."""
    seen: Counter[str] = Counter()
    found = set()
    for heading in re.findall(r"^#+ (.*)$", prose(page), re.MULTILINE):
        anchor = re.sub(r"[^\w\- ]", "", heading.strip().lower()).replace(" ", "-")
        found.add(f"{anchor}-{seen[anchor]}" if seen[anchor] else anchor)
        seen[anchor] += 1
    return found


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_each_link_leads_somewhere(page: Path) -> None:
    links = [link for link in re.findall(r"\]\(([^)\s]+)\)", prose(page)) if not link.startswith("https:")]
    for link in links:
        path, _, anchor = link.partition("#")
        target = (page.parent / path).resolve() if path else page
        assert target.exists(), link
        assert not anchor or anchor in anchors(target), link


@pytest.mark.parametrize("blueprint", BLUEPRINTS, ids=lambda blueprint: blueprint.stem)
def test_each_blueprint_is_told_of_with_a_picture(blueprint: Path) -> None:
    page = ROOT / "docs" / "automations.md"
    assert f"`{blueprint.name}`" in page.read_text()
    assert f"`{blueprint.name}`" in (ROOT / "blueprints" / "README.md").read_text()
    picture = ROOT / "docs" / "pictures" / f"{blueprint.stem}.png"
    assert f"(pictures/{picture.name})" in page.read_text()
    assert 0 < picture.stat().st_size <= HEAVIEST_PICTURE
