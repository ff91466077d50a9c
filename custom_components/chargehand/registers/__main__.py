"""Write what is made from the tables of the format anew: the reference page and the schema for editors."""

import json

from .reference import REFERENCE, reference
from .schema import SCHEMA, map_schema

REFERENCE.write_text(reference(), encoding="utf-8")
SCHEMA.write_text(json.dumps(map_schema(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
