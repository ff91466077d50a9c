"""A register map as it is written: the YAML format, its checks, its reference page and its JSON Schema."""

from .load import find_maps, load_map
from .reference import REFERENCE, reference
from .schema import SCHEMA, map_schema

__all__ = ["REFERENCE", "SCHEMA", "find_maps", "load_map", "map_schema", "reference"]
