"""The demo: Alder Mill, an invented house with an invented inverter and a real Home Assistant.

Starts the bench as a process of its own, and adds it to Home Assistant in the way a user does. The house has lived for six weeks when the
page is there. Everything it keeps is in `.work/demo` inside the clone and made anew at each start.
"""

from .voice import VOICE

__all__ = ["VOICE"]
