"""The JavaScript modules of this folder, served under an address that changes with what they hold."""

from hashlib import sha256
from pathlib import Path

from homeassistant.components.frontend import DOMAIN as FRONTEND
from homeassistant.components.frontend import add_extra_js_url
from homeassistant.components.http import StaticPathConfig
from homeassistant.core import HomeAssistant

from ..const import DOMAIN

FOLDER = Path(__file__).parent

ENTRY = "chargehand.js"
"""The module that the page loads; it imports the others."""


async def async_setup_frontend(hass: HomeAssistant) -> None:
    """Serve the modules, and have every page load the entry module.

    Nothing is left for the user to add. Without the frontend nobody loads them, and nothing fails.
    """
    modules, version = await hass.async_add_executor_job(_read)
    # The version is a part of the path, not a query: what a module imports beside it comes from the same version then, so
    # that a browser may keep all of them for good and still never mixes two.
    base = f"/{DOMAIN}_frontend/{version}"
    await hass.http.async_register_static_paths(
        [StaticPathConfig(f"{base}/{module.name}", str(module), cache_headers=True) for module in modules]
    )
    if FRONTEND in hass.config.components:
        add_extra_js_url(hass, f"{base}/{ENTRY}")


def _read() -> tuple[list[Path], str]:
    """Return the modules, and a version made from their names and contents."""
    modules = sorted(FOLDER.glob("*.js"))
    content = sha256()
    for module in modules:
        content.update(module.name.encode() + b"\0" + module.read_bytes() + b"\0")
    return modules, content.hexdigest()[:12]
