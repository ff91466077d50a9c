"""What keeps the demo from going on."""


class DemoFailed(Exception):
    """The demo could not do what it shows."""
