"""The core: everything about one inverter that needs no Home Assistant."""
