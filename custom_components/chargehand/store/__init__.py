"""What an inverter's entry keeps over restarts: one file, in sections."""

from .entry_store import EntryStore, Section

__all__ = ["EntryStore", "Section"]
