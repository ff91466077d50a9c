"""Commits in simulated time: the same core, an inverter in the same process, and a clock that jumps to whatever comes next.

Nothing here waits, and every choice has a seed, so that a sweep of a hundred thousand faults takes minutes and repeats exactly. What is
judged comes from an oracle that shares no code with Chargehand.
"""
