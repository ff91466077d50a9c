"""The register maps that a form offers, and the files in the folder of the user's own maps that are none."""

from collections import Counter
from dataclasses import dataclass

from homeassistant.core import HomeAssistant
from homeassistant.helpers import selector

from ..connection import map_paths, own_maps, read_map
from ..core.registers import NO_MAP, SUNSPEC, LineRules, MapInvalid, RegisterMap, UnusedFile, no_map, unused_files
from ..messages import bullets, reason_text, sentence, text

MOST_LISTED = 10
"""Unused files that a form lists one by one."""


@dataclass(frozen=True, kw_only=True, slots=True)
class MapChoices:
    """What can be picked, and what cannot."""

    options: list[selector.SelectOptionDict]
    unused: tuple[UnusedFile, ...]


def map_choices(hass: HomeAssistant, uploaded: RegisterMap | None) -> MapChoices:
    """Return the maps by title: one that was just uploaded, the user's own, and those built in. Blocks.

    One that is broken can be picked too, and then says what is wrong.
    """
    titles: dict[str, str] = {}
    paths = map_paths(hass)
    own = {map_id for map_id, path in paths.items() if path.parent == own_maps(hass)}
    for map_id in (*paths, SUNSPEC):
        try:
            titles[map_id] = read_map(hass, map_id).title
        except MapInvalid:
            titles[map_id] = f"{map_id}.yaml"
    if uploaded is not None:
        titles[uploaded.id] = uploaded.title
        own.add(uploaded.id)
    # A copy of a map that was begun with has its title until that is changed.
    often = Counter(titles.values())
    labels = {map_id: f"{title} ({map_id})" if often[title] > 1 else title for map_id, title in titles.items()}
    ordered = sorted(labels, key=lambda map_id: (map_id not in own, labels[map_id].casefold()))
    options = [selector.SelectOptionDict(value=map_id, label=labels[map_id]) for map_id in ordered]
    none = selector.SelectOptionDict(value=NO_MAP, label=no_map(LineRules()).title)
    return MapChoices(options=[*options, none], unused=unused_files(own_maps(hass)))


def lists_text(mistakes: tuple[str, ...], unused: tuple[UnusedFile, ...]) -> str:
    """Return the lists at the end of the form's description: what is wrong with a map, and the files that are none."""
    parts: list[str] = []
    if mistakes:
        parts.append(f"**{text('form_mistakes')}**\n\n{bullets(mistakes)}")
    if unused:
        lines = [text("form_unused_file", file=file.name, why=reason_text(file.why)) for file in unused[:MOST_LISTED]]
        more = len(unused) - len(lines)
        lines += [sentence("form_unused_more", count=str(more))] if more else []
        parts.append(f"**{text('form_unused')}**\n\n{bullets(lines)}")
    return "".join(f"\n\n{part}" for part in parts)
