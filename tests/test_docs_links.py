"""The documents as their reader has them: each link leads somewhere, and each blueprint is described, with a picture of its form."""

import re
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "blueprints" / "README.md", *(ROOT / "docs").glob("*.md")]
BLUEPRINTS = sorted((ROOT / "blueprints" / "automation" / "chargehand").glob("*.yaml"))
DRAWINGS = sorted((ROOT / "docs" / "pictures").glob("*.svg"))
SVG = "{http://www.w3.org/2000/svg}"
DRAWN_WITH = {"svg", "title", "desc", "style", "defs", "marker", "g", "path", "rect", "text"}
"""None of these fetches anything by itself (Scalable Vector Graphics 2, W3C 2018; from memory)."""
WIDEST_DRAWING = 640
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


@pytest.mark.parametrize("drawing", DRAWINGS, ids=lambda drawing: drawing.stem)
def test_each_drawing_can_be_read_without_eyes_in_the_dark_and_without_a_network(drawing: Path) -> None:
    """The first children name and describe it (SVG 2, chapter 5); nothing in it, its style included, leads elsewhere."""
    root = ET.parse(drawing).getroot()
    assert [child.tag for child in root[:2]] == [SVG + "title", SVG + "desc"]
    assert all((child.text or "").strip() for child in root[:2])
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= DRAWN_WITH
    assert not [
        name
        for element in root.iter()
        for name in element.attrib
        if name.endswith(("href", "src")) or name.startswith("on")
    ]
    assert float(root.attrib["viewBox"].split()[2]) <= WIDEST_DRAWING

    source = drawing.read_text()
    assert "<!" not in source
    assert "<?" not in source
    assert "@media (prefers-color-scheme: dark)" in source
    assert not re.findall(r"@(?:import|font-face)|image-set", source)
    assert all(target.startswith("#") for target in re.findall(r"url\(([^)]*)\)", source))


@pytest.mark.parametrize("drawing", DRAWINGS, ids=lambda drawing: drawing.stem)
def test_each_drawing_is_shown_with_words_in_its_place(drawing: Path) -> None:
    assert any(re.search(rf"!\[[^\]]+\]\(pictures/{drawing.name}\)", page.read_text()) for page in PAGES)
