"""The commands of the control port; their fields are listed in README.md."""

from datetime import datetime

from tests.bench.faults import Fault
from tests.bench.front import Front
from tests.bench.house import hourly
from tests.bench.line import SerialLine
from tests.bench.logger import DataLogger, Overwrite, Polling
from tests.bench.plant import Plant
from tests.bench.protocol import BatteryState, ClockState, Stats
from tests.bench.queueing import QueueingGateway
from tests.bench.request import READ_HOLDING, READ_INPUT
from tests.bench.transparent import TransparentGateway

type Answer = dict[str, object]

_FUNCTIONS = {"input": READ_INPUT, "holding": READ_HOLDING}


class Commands:
    """Every public method is a command; its keyword arguments are the fields of the JSON object."""

    def __init__(
        self,
        *,
        plant: Plant,
        front: Front,
        gateway: QueueingGateway | TransparentGateway,
        line: SerialLine,
        logger: DataLogger,
    ) -> None:
        self._plant = plant
        self._front = front
        self._gateway = gateway
        self._line = line
        self._logger = logger

    async def registers(self, *, table: str, first: int, count: int, unit: int = 1) -> Answer:
        """Return raw registers, straight from memory; table `kept` has the holding ones that the inverter acts on."""
        if table not in {*_FUNCTIONS, "kept"} or count < 1:
            raise ValueError("give table input, holding or kept, and a count from 1")
        return {"values": self._plant.unit(unit).read(table, first, count)}

    async def set(
        self, *, first: int = 0, values: list[int] | None = None, table: str = "holding", unit: int = 1
    ) -> Answer:
        """Write memory as the inverter's own panel does; input registers then show what is set."""
        inverter = self._plant.unit(unit)
        if any(not 0 <= value <= 0xFFFF for value in values or ()):
            raise ValueError("a register takes 0 to 65535")
        if table == "input":
            inverter.force_input(first, values)
        elif table == "holding" and values:
            inverter.read(table, first, len(values))
            inverter.panel(first, values)
        else:
            raise ValueError("give table input or holding, and values")
        return {}

    async def clock(
        self, *, local: str | None = None, drift_seconds_per_day: float | None = None, unit: int = 1
    ) -> Answer:
        """Set the clock or its drift, and show it."""
        inverter = self._plant.unit(unit)
        now = self._plant.time.now()
        if local is not None:
            inverter.set_clock(_local(local))
        if drift_seconds_per_day is not None:
            inverter.clock.set_drift(drift_seconds_per_day, now)
        return dict(
            ClockState(
                clock=inverter.clock.read(now).isoformat(),
                drift_seconds_per_day=inverter.clock.drift,
                seconds=now,
            )
        )

    async def advance(self, *, seconds: float) -> Answer:
        """Move simulated time on; everything that was to happen in it has happened when this answers."""
        if seconds < 0:
            raise ValueError("time only goes forward")
        self._plant.run_on()
        self._plant.time.advance(seconds)
        self._plant.run_on()
        return {"seconds": self._plant.time.now()}

    async def speed(self, *, speed: float) -> Answer:
        """Set the simulated seconds per real second."""
        self._plant.run_on()
        self._plant.time.set_speed(speed)
        return {}

    async def battery(
        self,
        *,
        level: float | None = None,
        temperature: float | None = None,
        sensor: bool | None = None,
        unit: int = 1,
    ) -> Answer:
        """Set the level in %, the temperature in degC, battery and air, or its sensor, and show everything exactly."""
        inverter = self._plant.unit(unit)
        inverter.set_battery(level, temperature, sensor)
        now, totals = inverter.flow(), inverter.totals
        return dict(
            BatteryState(
                level=inverter.battery.level,
                stored_wh=inverter.battery.stored_wh,
                celsius=inverter.battery.celsius,
                task=inverter.task,
                battery_w=now.battery_w,
                battery_v=now.battery_v,
                battery_a=now.battery_a,
                ac_w=now.ac_w,
                grid_w=now.grid_w,
                load_w=now.load_w,
                solar_w=now.solar_w,
                charged_wh=totals.charged,
                discharged_wh=totals.discharged,
                imported_wh=totals.imported,
                exported_wh=totals.exported,
                load_wh=totals.load,
                solar_wh=totals.solar,
            )
        )

    async def house(
        self, *, load: float | list[float] | None = None, solar: float | list[float] | None = None, unit: int = 1
    ) -> Answer:
        """Set load and solar power in W, one value or 24."""
        inverter = self._plant.unit(unit)
        inverter.house = inverter.house.changed(
            load=None if load is None else hourly(load), solar=None if solar is None else hourly(solar)
        )
        return {"load": inverter.house.load, "solar": inverter.house.solar}

    async def fault(
        self, *, kind: str, share: float = 0.2, ms: float | list[float] | None = None, **fields: object
    ) -> Answer:
        """Order a fault."""
        if kind == "random_late":
            low, high = ms if isinstance(ms, list) else (ms or 0.0, ms or 1000.0)
            self._plant.faults.order_random_late(share, low, high)
        else:
            order: dict[str, object] = fields if ms is None else fields | {"ms": ms}
            self._plant.faults.order(Fault(kind=kind, **order))  # type: ignore[arg-type]
        return {}

    async def clear_faults(self) -> Answer:
        """Forget all orders."""
        self._plant.faults.clear()
        return {}

    async def journal(self, *, since: int = 0) -> Answer:
        """Return every request that reached the inverter, after number `since`."""
        return {"journal": self._plant.journal[since:]}

    async def acted(self, *, since: int = 0, unit: int = 1) -> Answer:
        """Return every schedule on which the inverter has acted, after the first `since`."""
        return {"acted": self._plant.unit(unit).acted[since:]}

    async def logger(
        self, *, every_s: float = 10.0, table: str = "input", first: int = 420, count: int = 60, unit: int = 1
    ) -> Answer:
        """Let the data logger poll; `every_s` 0 turns it off, `count` 0 keeps it connected and quiet."""
        polling = Polling(every=every_s, function=_FUNCTIONS[table], first=first, count=count, unit=unit)
        self._logger.poll(polling if every_s else None)
        return self._logger_state()

    async def logger_overwrite(self, *, first: int, values: list[int], at: str | None = None, unit: int = 1) -> Answer:
        """Let the data logger write, now or when the inverter's clock shows `at`."""
        when = None if at is None else _local(at)
        self._logger.overwrite(Overwrite(unit=unit, first=first, values=tuple(values), at=when))
        return self._logger_state()

    async def logger_state(self) -> Answer:
        """Return what the data logger has done."""
        return self._logger_state()

    def _logger_state(self) -> Answer:
        logger = self._logger
        return {"polls": logger.polls, "answers": logger.answers, "overwritten": logger.overwritten}

    async def gateway(
        self,
        *,
        down: bool | None = None,
        restart: bool = False,
        answers_after_ms: float | None = None,
        own_transaction_ids: bool | None = None,
    ) -> Answer:
        """Take the gateway down or up, restart it, delay its answers, let it number them itself."""
        if down or restart:
            self._front.close()
            self._gateway.forget()
        if down is False or restart:
            await self._front.reopen()
        if answers_after_ms is not None:
            self._front.delay = answers_after_ms / 1000
        if own_transaction_ids is not None:
            if isinstance(self._gateway, TransparentGateway):
                raise ValueError("a transparent gateway has no transaction ids")
            self._gateway.own_ids = own_transaction_ids
        return {}

    async def inverter(self, *, answers: bool | None = None, restart: bool = False, unit: int = 1) -> Answer:
        """Silence a unit, let it answer again, or restart it: what it was not told to save is lost."""
        inverter = self._plant.unit(unit)
        if restart:
            inverter.restart()
        if answers is not None:
            inverter.answers = answers
        return {}

    async def acting(self, *, unit: int = 1) -> Answer:
        """Return what the inverter does now, and by which window."""
        return dict(self._plant.unit(unit).acting)

    async def stats(self) -> Answer:
        """Return what the line has carried."""
        line, front, faults = self._line, self._front, self._plant.faults
        return dict(
            Stats(
                requests=line.requests,
                bytes=line.bytes,
                busy_seconds=line.busy,
                measured_seconds=line.measured,
                waiting_seconds=line.waiting,
                collisions=line.collisions,
                hurried_frames=line.hurried,
                damaged_frames=line.damaged,
                connections=len(front.clients),
                accepted=front.accepted,
                refused=front.refused,
                faults_met=faults.met,
                faults_waiting=faults.waiting,
            )
        )


def _local(text: str) -> datetime:
    """Return a local time without a zone. Raises ValueError."""
    local = datetime.fromisoformat(text)
    if local.tzinfo is not None:
        raise ValueError(f"{text}: the inverter's clock has no time zone; give local time alone")
    return local
