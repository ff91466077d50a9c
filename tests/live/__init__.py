"""Home Assistant as users run it: a process of its own, spoken to by its REST and websocket interfaces only."""
