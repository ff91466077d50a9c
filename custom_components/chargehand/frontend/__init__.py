"""The day card and the dashboard strategy, as modules that a browser loads, and what serves them.

Hands out what offers them to the frontend.
"""

from .modules import async_setup_frontend

__all__ = ["async_setup_frontend"]
