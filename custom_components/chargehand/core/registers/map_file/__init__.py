"""A register map as it is written: the YAML format, its checks, its reference page and its JSON Schema."""

from .file_names import UnusedFile, find_maps, name_fault, unused_files
from .load import load_map
from .reference import REFERENCE, reference
from .schema import SCHEMA, map_schema

__all__ = [
    "REFERENCE",
    "SCHEMA",
    "UnusedFile",
    "find_maps",
    "load_map",
    "map_schema",
    "name_fault",
    "reference",
    "unused_files",
]
