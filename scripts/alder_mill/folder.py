"""The demo's folder: one house in a clone, made anew at each start."""

import fcntl
import json
import shutil
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from homeassistant.components.onboarding.const import STEPS

from .faults import DemoFailed
from .paths import HOUSE, ROOT

LATITUDE = 51.5
DASHBOARD = """\
strategy:
  type: custom:chargehand
"""

CONFIGURATION = """\
homeassistant:
  name: Alder Mill
  latitude: {latitude}
  longitude: -0.1
  elevation: 20
  unit_system: metric
  time_zone: Europe/London
  country: GB
  currency: GBP
  external_url: http://127.0.0.1:{port}
  internal_url: http://127.0.0.1:{port}
frontend:
config:
history:
logbook:
energy:
system_health:
automation: !include automations.yaml
recorder:
  purge_keep_days: 2
lovelace:
  dashboards:
    alder-mill:
      mode: yaml
      title: Alder Mill
      icon: mdi:home-battery
      show_in_sidebar: true
      filename: dashboard.yaml
"""


PAGE = {
    "cors_allowed_origins": [],
    "login_attempts_threshold": -1,
    "ip_ban_enabled": False,
    "ssl_profile": "modern",
    "created_at": "2026-11-25T00:00:00+00:00",
    "error": None,
    "error_message": None,
}
"""How the page is served; what the platform wants to be there."""


def check_port(port: int) -> None:
    """Make sure that the page can be there. Raises DemoFailed."""
    with socket.socket() as probe:
        # Connections of an earlier demo that are being closed do not stand in the way.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError as fault:
            raise DemoFailed(
                f"port {port} cannot be used ({fault.strerror}); choose another one with --port N"
            ) from fault


@contextmanager
def alone() -> Iterator[None]:
    """Hold the clone's one house. Raises DemoFailed where another demo has it."""
    HOUSE.parent.mkdir(exist_ok=True)
    with HOUSE.with_suffix(".lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as fault:
            raise DemoFailed("another demo runs in this clone; end it first") from fault
        yield


def make_house(port: int) -> Path:
    """Return a fresh configuration folder that uses this clone's integration and dashboard."""
    config = HOUSE / "config"
    shutil.rmtree(HOUSE, ignore_errors=True)
    (config / ".storage").mkdir(parents=True)
    (config / "custom_components").mkdir()
    (config / "www").mkdir()
    (config / "custom_components" / "chargehand").symlink_to(ROOT / "custom_components" / "chargehand")
    # A copy: Home Assistant puts blueprints of its own beside them.
    shutil.copytree(ROOT / "blueprints", config / "blueprints")
    (config / "configuration.yaml").write_text(CONFIGURATION.format(port=port, latitude=LATITUDE))
    # Where the editor keeps what is made from them; without it an automation is saved and never runs.
    (config / "automations.yaml").write_text("[]\n")
    (config / "dashboard.yaml").write_text(DASHBOARD)
    onboarding = {"version": 4, "minor_version": 1, "key": "onboarding", "data": {"done": STEPS}}
    (config / ".storage" / "onboarding").write_text(json.dumps(onboarding))
    # As the platform keeps it once the page's settings are confirmed; in YAML they would stand as a repair.
    page = {"server_host": ["127.0.0.1"], "server_port": port, "use_x_frame_options": True, **PAGE}
    stored = {"stable": page, "pending": None, "yaml_migration_done": True}
    (config / ".storage" / "http").write_text(
        json.dumps({"version": 2, "minor_version": 2, "key": "http", "data": stored})
    )
    return config
