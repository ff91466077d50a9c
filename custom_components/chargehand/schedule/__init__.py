"""The schedule: all windows and what arms them, always handled as one whole.

Hands out the windows, their image in registers, the check of a wish, and the commit that takes the inverter there.
"""
