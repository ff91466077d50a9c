"""Which of an automation's targets show one thing of an inverter: the device is picked, its right entity is found."""

from collections.abc import Iterable, Mapping
from typing import ClassVar

from homeassistant.const import Platform
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.automation import DomainSpec

from ..connection import entity_unique_id
from ..const import DOMAIN

ON_BINARY_SENSOR = {str(Platform.BINARY_SENSOR): DomainSpec()}
ON_EVENT = {str(Platform.EVENT): DomainSpec()}
ON_SENSOR = {str(Platform.SENSOR): DomainSpec()}


class OfOneKey:
    """A trigger or condition on the entities that show one key, of whatever inverters are picked."""

    _hass: HomeAssistant
    _domain_specs: Mapping[str, DomainSpec]
    _key: ClassVar[str]

    def entity_filter(self, entities: set[str]) -> set[str]:
        """Those that show it."""
        (platform,) = self._domain_specs
        return showing(self._hass, platform, self._key, entities)


@callback
def showing(hass: HomeAssistant, platform: str, key: str, entities: Iterable[str]) -> set[str]:
    """Those of `entities` that are Chargehand's and show `key` on `platform`, whatever they were renamed to."""
    registry = er.async_get(hass)
    return {entity_id for entity_id in entities if _shows(registry.async_get(entity_id), platform, key)}


def _shows(entity: er.RegistryEntry | None, platform: str, key: str) -> bool:
    if entity is None or entity.platform != DOMAIN or entity.domain != platform or entity.config_entry_id is None:
        return False
    return entity.unique_id == entity_unique_id(entity.config_entry_id, key)
