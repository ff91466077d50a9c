"""SunSpec: register maps that the inverter itself provides."""

from .chain import NotThere
from .discovery import SUNSPEC, SUNSPEC_UNREAD, read_sunspec_map

__all__ = ["SUNSPEC", "SUNSPEC_UNREAD", "NotThere", "read_sunspec_map"]
