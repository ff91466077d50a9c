"""The demo: Alder Mill, an invented house with an invented inverter and a real Home Assistant.

Starts the bench as a process of its own, adds it to Home Assistant in the way a user does, puts tonight's schedule on it, and
prints the receipt. Everything it keeps is in `.work/demo` inside the clone and made anew at each start.
"""

import argparse
import asyncio
import fcntl
import json
import shutil
import signal
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType
from typing import Any

from homeassistant import bootstrap, runner
from homeassistant.components.frontend.storage import async_system_store
from homeassistant.components.onboarding.const import STEPS
from homeassistant.core import Context, HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import device_registry as dr

ROOT = Path(__file__).parent.parent
HOUSE = ROOT / ".work" / "demo"
TONIGHT = {
    "charge": [{"start": "01:00", "end": "05:00", "power": 3000, "stop_level": 95}],
    "discharge": [],
    "armed": True,
}

CONFIGURATION = """\
homeassistant:
  name: Alder Mill
  latitude: 51.5
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

DASHBOARD = """\
strategy:
  type: custom:chargehand
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

VOICE = {"pymicro_vad": "MicroVad", "pyspeex_noise": "AudioProcessor"}
"""Voice libraries that Home Assistant's start imports, and what it takes from each. They come only as source to be compiled."""


class DemoFailed(Exception):
    """The demo could not do what it shows."""


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
    (config / "custom_components" / "chargehand").symlink_to(ROOT / "custom_components" / "chargehand")
    # A copy: Home Assistant puts blueprints of its own beside them.
    shutil.copytree(ROOT / "blueprints", config / "blueprints")
    (config / "configuration.yaml").write_text(CONFIGURATION.format(port=port))
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


async def start_bench() -> tuple[asyncio.subprocess.Process, dict[str, int]]:
    """Start the Teasel T5 behind its gateway, on a simulated 9600-baud line. Return its process and its ports."""
    bench = await asyncio.create_subprocess_exec(
        sys.executable,
        *("-m", "tests.bench", "--port", "0", "--control", "0", "--until-stdin-closes"),
        *("--time-zone", "Europe/London"),
        cwd=ROOT,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
    )
    assert bench.stdout is not None
    line = await bench.stdout.readline()
    if not line:
        raise DemoFailed("the bench did not start")
    return bench, json.loads(line)


def leave_voice_out() -> None:
    """Stand empty modules in for the voice libraries, unless they are there: the demo neither speaks nor needs a compiler."""
    for name, taken in VOICE.items():
        if find_spec(name) is None:
            module = ModuleType(name)
            setattr(module, taken, object)
            sys.modules[name] = module


async def start_home_assistant(config: Path) -> HomeAssistant:
    """Return a real Home Assistant on this configuration, with the user demo."""
    log = (HOUSE / "home-assistant.log").open("w")
    # Home Assistant logs to where errors go; the demo's own words shall stand alone on the screen.
    sys.stderr = log
    leave_voice_out()
    hass = await bootstrap.async_setup_hass(runner.RuntimeConfig(config_dir=str(config), skip_pip=True))
    if hass is None or hass.config.recovery_mode:
        raise DemoFailed(f"Home Assistant did not start; see {log.name}")
    provider = hass.auth.get_auth_provider("homeassistant", None)
    assert provider is not None
    await provider.async_initialize()
    await hass.async_add_executor_job(provider.data.add_auth, "demo", "demo")
    await provider.data.async_save()
    credentials = await provider.async_get_or_create_credentials({"username": "demo"})
    user = await hass.auth.async_create_user("demo", group_ids=["system-admin"])
    await hass.auth.async_link_user(user, credentials)
    await (await async_system_store(hass)).async_set_item("core", {"default_panel": "alder-mill"})
    await hass.async_start()
    return hass


async def add_inverter(hass: HomeAssistant, port: int) -> str:
    """Add the inverter through the same forms that a user fills in. Return its device's id."""
    flow = hass.config_entries.flow
    form = await flow.async_init("chargehand", context={"source": "user"})
    form = await flow.async_configure(
        form["flow_id"], {"host": "127.0.0.1", "port": port, "framing": "tcp", "register_map": "teasel_t5"}
    )
    if form.get("step_id") != "confirm":
        raise DemoFailed(f"the inverter was not found: {form.get('errors')}")
    found: dict[str, Any] = dict(form["description_placeholders"] or {})
    print(
        f"Found {found['maker']} {found['model']}, serial number {found['serial']}, battery at {found['level']}, "
        f"round trip {found['round_trip']}, its clock off by {found['clock']}."
    )
    done = await flow.async_configure(form["flow_id"], {"allow_control": True})
    if done["type"] is not FlowResultType.CREATE_ENTRY:
        raise DemoFailed("the inverter could not be added")
    await hass.async_block_till_done()
    entry = hass.config_entries.async_entries("chargehand")[0]
    devices = dr.async_entries_for_config_entry(dr.async_get(hass), entry.entry_id)
    if not devices:
        raise DemoFailed(f"the inverter is not running: {entry.reason}")
    return devices[0].id


async def put_schedule(hass: HomeAssistant, device_id: str) -> dict[str, Any]:
    """Apply tonight's schedule and return the receipt."""
    demo = next(user for user in await hass.auth.async_get_users() if user.name == "demo")
    receipt = await hass.services.async_call(
        "chargehand",
        "apply_schedule",
        {"device_id": device_id, **TONIGHT},
        blocking=True,
        return_response=True,
        context=Context(user_id=demo.id),
    )
    assert receipt is not None
    return dict(receipt)


def said(value: object) -> str:
    """Return a value of a receipt as people write it."""
    return f"{value:g}" if isinstance(value, float) else str(value)


def print_receipt(receipt: dict[str, Any]) -> None:
    """Print the receipt in words; the last line says that it is proven, and how long that took."""
    requests = receipt["requests"]
    print("\nTonight's schedule is on the inverter:")
    for change in receipt["changes"]:
        print(f"  {change['what'].replace('_', ' '):32} {said(change['was']):>6} -> {said(change['now'])}")
    if not receipt["changes"]:
        print("  nothing to change: it held it already")
    frames = "frame" if requests["writes"] == 1 else "frames"
    print(
        f"  {receipt['registers_written']} registers written in {requests['writes']} {frames}, "
        f"{receipt['registers_read_back']} registers read back and all as wanted."
    )


async def run(arguments: argparse.Namespace) -> None:
    """Run the demo from start to end. Raises DemoFailed, or what Home Assistant raises."""
    bench, ports = await start_bench()
    hass: HomeAssistant | None = None
    try:
        print("Starting Home Assistant at Alder Mill ...", flush=True)
        hass = await start_home_assistant(make_house(arguments.port))
        # Where the bench takes orders (tests/bench/README.md), for who plays with its faults.
        (HOUSE / "bench.json").write_text(json.dumps(ports))
        receipt = await put_schedule(hass, await add_inverter(hass, ports["port"]))
        print_receipt(receipt)
        if not arguments.once:
            print(
                f"\nDashboard: http://127.0.0.1:{arguments.port} (user demo, password demo); Ctrl-C ends it.",
                flush=True,
            )
            await until_interrupted()
    finally:
        if hass is not None:
            await hass.async_stop(force=True)
        if bench.stdin is not None:
            bench.stdin.close()
        await bench.wait()
    if receipt["outcome"] not in ("confirmed", "unchanged"):
        raise DemoFailed(f"the receipt says {receipt['outcome']}")
    if arguments.once:
        print(f"{receipt['outcome']} in {receipt['seconds']:.2f} s")


def a_port(text: str) -> int:
    """Return a port from the command line."""
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError("a port is a whole number from 1 to 65535")
    return int(text)


async def until_interrupted() -> None:
    """Wait for Ctrl-C, or for a signal to end."""
    ended = asyncio.Event()
    for signal_ in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(signal_, ended.set)
    await ended.wait()


def main() -> int:
    """Parse the command line and run."""
    parser = argparse.ArgumentParser(
        prog="scripts/demo", description="Chargehand on an invented inverter at Alder Mill."
    )
    parser.add_argument("--once", action="store_true", help="stop after the receipt")
    parser.add_argument("--port", type=a_port, default=8123, help="port of the web page (8123)")
    arguments = parser.parse_args()
    errors = sys.stderr
    try:
        check_port(arguments.port)
        with alone():
            asyncio.run(run(arguments))
    except (DemoFailed, HomeAssistantError) as failure:
        print(f"failed: {failure}", file=errors)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
