"""The demo as its user starts it. Each needs a whole Home Assistant, so one process runs them in turn."""
