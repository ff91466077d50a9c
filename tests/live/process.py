"""A real Home Assistant in a process of its own, with a configuration folder that outlives it."""

import asyncio
import os
import shutil
import signal
import sys
from pathlib import Path
from typing import Any, Self

import aiohttp

from scripts.alder_mill import VOICE
from tests.waiting import until

ROOT = Path(__file__).parents[2]
STAND_INS = "stand_ins"
STARTS_WITHIN_S = 180.0
ENDS_WITHIN_S = 60.0

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
http:
  server_host: 127.0.0.1
  server_port: {port}
frontend:
energy:
history:
logbook:
system_health:
automation: !include automations.yaml
"""

type Json = Any
"""What the interfaces answer."""


def make_folder(folder: Path, port: int, register_map: str) -> None:
    """Make the configuration of a new house: the integration copied in, and a register map of the house's own."""
    integration = folder / "custom_components" / "chargehand"
    shutil.copytree(
        ROOT / "custom_components" / "chargehand", integration, ignore=shutil.ignore_patterns("__pycache__")
    )
    (folder / "chargehand").mkdir()
    (folder / "chargehand" / "mine.yaml").write_text(register_map)
    (folder / "configuration.yaml").write_text(CONFIGURATION.format(port=port))
    (folder / "automations.yaml").write_text("[]\n")
    # Voice libraries come only as source to be compiled, and Home Assistant lists its actions with them or not at all.
    (folder / STAND_INS).mkdir()
    for name, taken in VOICE.items():
        (folder / STAND_INS / f"{name}.py").write_text(f"class {taken}: ...\n")


class Home:
    """A running Home Assistant; `async with Home(python, folder, port) as home:` ends it in the way that a user does."""

    def __init__(self, python: str, folder: Path, port: int, token: str | None = None) -> None:
        """Run the Home Assistant of `python` on the configuration in `folder`; `token` is that of an earlier run."""
        self.token = token
        """What the house's owner is let in by; made at the first start."""
        self._python = python
        self._folder = folder
        self._url = f"http://127.0.0.1:{port}"

    async def __aenter__(self) -> Self:
        """Start, and go on once all of it runs."""
        environment = {key: value for key, value in os.environ.items() if not key.startswith(("PYTEST", "PYTHON"))}
        self._output = (self._folder / "output").open("ab")
        self._process = await asyncio.create_subprocess_exec(
            *(self._python, "-W", "default", "-m", "homeassistant", "--config", str(self._folder), "--skip-pip"),
            cwd=self._folder,
            env=environment | {"PYTHONPATH": str(self._folder / STAND_INS)},
            stdout=self._output,
            stderr=self._output,
        )
        self._session = aiohttp.ClientSession()
        try:
            async with asyncio.timeout(STARTS_WITHIN_S):
                await until(self._runs)
        except BaseException:
            await self._end(signal.SIGKILL)
            raise
        return self

    async def __aexit__(self, *_: object) -> None:
        """Stop, as a restart of the machine does."""
        await self._end(signal.SIGTERM)

    async def _end(self, how: signal.Signals) -> None:
        await self._session.close()
        if self._process.returncode is None:
            self._process.send_signal(how)
        try:
            async with asyncio.timeout(ENDS_WITHIN_S):
                await self._process.wait()
        except TimeoutError:
            self._process.kill()
            await self._process.wait()
            raise
        finally:
            self._output.close()

    async def _runs(self) -> bool:
        if self._process.returncode is not None:
            raise AssertionError(f"Home Assistant ended with {self._process.returncode}:\n{self.log()[-4000:]}")
        try:
            if self.token is None:
                await self._become_owner()
            return bool((await self.get("config"))["state"] == "RUNNING")
        except aiohttp.ClientError:
            return False

    async def _become_owner(self) -> None:
        """Make the house's first user, as the page does at a first start, and a token for what follows."""
        owner = {"client_id": f"{self._url}/", "name": "Owner", "username": "owner", "password": "owner"}
        made = await self._send("post", "onboarding/users", {**owner, "language": "en"})
        form = {"client_id": owner["client_id"], "grant_type": "authorization_code", "code": made["auth_code"]}
        async with self._session.post(f"{self._url}/auth/token", data=form, raise_for_status=True) as answer:
            self.token = (await answer.json())["access_token"]
        # That of a page is good for half an hour, and not for an hour later.
        self.token = await self.ask("auth/long_lived_access_token", client_name="test", lifespan=1)

    async def _send(self, method: str, path: str, data: Json = None) -> Json:
        headers = {} if self.token is None else {"Authorization": f"Bearer {self.token}"}
        async with self._session.request(method, f"{self._url}/api/{path}", json=data, headers=headers) as answer:
            if answer.status >= 400:
                raise Refused(answer.status, await answer.text())
            return await answer.json()

    async def get(self, path: str) -> Json:
        """Get from the REST interface. Raises Refused."""
        return await self._send("get", path)

    async def post(self, path: str, **data: Json) -> Json:
        """Post to the REST interface. Raises Refused."""
        return await self._send("post", path, data)

    async def ask(self, command: str, **fields: Json) -> Json:
        """Give one command to the websocket interface. Raises Refused."""
        async with self._session.ws_connect(f"{self._url}/api/websocket", max_msg_size=0) as socket:
            await socket.receive_json()
            await socket.send_json({"type": "auth", "access_token": self.token})
            await socket.receive_json()
            await socket.send_json({"id": 1, "type": command, **fields})
            answer = await socket.receive_json()
        if not answer["success"]:
            raise Refused(0, str(answer["error"]))
        return answer["result"]

    async def act(self, action: str, **data: Json) -> Json:
        """Call an action of Chargehand's, and return its response. Raises Refused."""
        return (await self.post(f"services/chargehand/{action}?return_response", **data))["service_response"]

    async def state(self, entity_id: str) -> str:
        """The state of an entity."""
        return str((await self.get(f"states/{entity_id}"))["state"])

    async def becomes(self, entity_id: str, wanted: str) -> None:
        """Wait until an entity has a state."""

        async def there() -> bool:
            return await self.state(entity_id) == wanted

        await until(there)

    def log(self) -> str:
        """Return all that Home Assistant has said since the first start."""
        return (self._folder / "output").read_text(errors="replace")


class Refused(Exception):
    """An interface has refused: its status and what it said."""


def platforms() -> list[str]:
    """The pythons whose Home Assistant is to be tried: that of these tests, and the newest where there is one."""
    newest = os.environ.get("CHARGEHAND_NEWEST")
    return [sys.executable, *([] if newest is None else [newest])]
