"""Chargehand's blueprints in Home Assistant's folder: which are missing, older, or changed by the user; and putting them there.

The integration brings them along, because whoever installs it gets its own folder only. A file that it has put in place ends with a
comment that holds the hash of what is above, so that a later release knows whether somebody has changed it.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256
from pathlib import Path

from homeassistant.const import SERVICE_RELOAD
from homeassistant.core import HomeAssistant
from homeassistant.util.file import write_utf8_file_atomic

from ..const import DOMAIN

AUTOMATION = "automation"
SHIPPED = Path(__file__).parents[1] / "blueprints" / "automation" / "chargehand"

_SEAL = "# Chargehand put this file here. To keep changes of your own, work on a copy. SHA-256 of the lines above: "
_NAME = re.compile(r"^ +name: (.+)$", re.MULTILINE)


class BlueprintState(StrEnum):
    """What Home Assistant's folder has of a blueprint."""

    MISSING = "missing"
    OLDER = "older"
    """As an earlier release has put it there."""
    CHANGED = "changed"
    """Something else than any release has put there through Chargehand: the user's changes, or a copy made by hand."""
    CURRENT = "current"


@dataclass(frozen=True, kw_only=True, slots=True)
class ShippedBlueprint:
    """A blueprint of this release; `file` is its name in the folder."""

    file: str
    name: str
    state: BlueprintState


def blueprint_folder(hass: HomeAssistant) -> Path:
    """Return where Home Assistant keeps Chargehand's blueprints."""
    return Path(hass.config.path("blueprints", AUTOMATION, DOMAIN))


async def shipped_blueprints(hass: HomeAssistant) -> list[ShippedBlueprint]:
    """Return all blueprints of this release, by name."""
    return await hass.async_add_executor_job(_compare, blueprint_folder(hass))


async def put_in_place(hass: HomeAssistant, files: Iterable[str]) -> None:
    """Write these blueprints over what is there, and let the automations that use them take them. Raises OSError, HomeAssistantError."""
    written = 0
    try:
        for file in files:
            await hass.async_add_executor_job(_write, blueprint_folder(hass), file)
            written += 1
    finally:
        # Also for those that were written before one that could not be.
        if written and hass.services.has_service(AUTOMATION, SERVICE_RELOAD):
            await hass.services.async_call(AUTOMATION, SERVICE_RELOAD, blocking=True)


def _compare(folder: Path) -> list[ShippedBlueprint]:
    found = [_compared(path, folder / path.name) for path in SHIPPED.glob("*.yaml")]
    return sorted(found, key=lambda one: one.name)


def _compared(path: Path, there: Path) -> ShippedBlueprint:
    text = path.read_text(encoding="utf-8")
    named = _NAME.search(text)
    return ShippedBlueprint(file=path.name, name=named[1] if named else path.stem, state=_state(text, there))


def _state(text: str, there: Path) -> BlueprintState:
    try:
        body, _, seal = there.read_text(encoding="utf-8").partition(_SEAL)
    except FileNotFoundError, NotADirectoryError:
        return BlueprintState.MISSING
    except OSError, UnicodeDecodeError:
        # Whatever it is, it is not Chargehand's to overwrite unasked.
        return BlueprintState.CHANGED
    if body == text:
        return BlueprintState.CURRENT
    return BlueprintState.OLDER if seal.strip() == _hash(body) else BlueprintState.CHANGED


def _write(folder: Path, file: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    text = (SHIPPED / file).read_text(encoding="utf-8")
    write_utf8_file_atomic(str(folder / file), f"{text}{_SEAL}{_hash(text)}\n")


def _hash(text: str) -> str:
    return sha256(text.encode()).hexdigest()
