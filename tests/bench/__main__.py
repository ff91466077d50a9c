"""Run the bench until it is asked to end."""

import asyncio
import json
import os
import signal
import sys
import threading

from tests.bench.commands import Commands
from tests.bench.control import Control
from tests.bench.front import Front
from tests.bench.line import SerialLine
from tests.bench.logger import DataLogger
from tests.bench.options import Options, read_options
from tests.bench.plant import Plant
from tests.bench.queueing import QueueingGateway
from tests.bench.transparent import TransparentGateway

_RUN_ON_EVERY_S = 0.1


async def run(options: Options) -> None:
    """Serve until SIGTERM, SIGINT, or the end of standard input if that was asked for."""
    plant = Plant(
        make=options.make,
        units=options.units,
        start=options.start,
        clock=options.utc if options.make.keeps_utc else options.start,
        speed=options.speed,
        seed=options.seed,
        after_write=options.after_write,
    )
    line = SerialLine(baud=options.baud, turnaround=options.turnaround, frame_gap=options.frame_gap)
    front = Front(host=options.host, port=options.port, most=1 if options.gateway == "single" else None)
    gateway: QueueingGateway | TransparentGateway
    if options.gateway == "transparent":
        gateway = TransparentGateway(front=front, line=line, plant=plant)
    else:
        gateway = QueueingGateway(
            front=front,
            line=line,
            plant=plant,
            mbap=options.mbap,
            timeout=options.gateway_timeout,
            own_ids=options.own_transaction_ids,
        )
    logger = DataLogger(
        front=front, mbap=options.mbap, clock=lambda unit: plant.unit(unit).clock.read(plant.time.now())
    )
    control = Control(Commands(plant=plant, front=front, gateway=gateway, line=line, logger=logger))
    ended = _ended(until_stdin_closes=options.until_stdin_closes)
    await front.open(gateway)
    talking = await asyncio.start_server(control.talk, "127.0.0.1", options.control)
    ports = {"port": front.port, "control": talking.sockets[0].getsockname()[1], "pid": os.getpid()}
    print(json.dumps(ports), flush=True)
    async with asyncio.TaskGroup() as tasks:
        running = [tasks.create_task(work) for work in (_run_on(plant), logger.run())]
        if isinstance(gateway, QueueingGateway):
            running.append(tasks.create_task(gateway.run()))
        await ended.wait()
        for task in running:
            task.cancel()
    front.close()
    talking.close()


async def _run_on(plant: Plant) -> None:
    while True:
        plant.run_on()
        await asyncio.sleep(_RUN_ON_EVERY_S)


def _ended(*, until_stdin_closes: bool) -> asyncio.Event:
    loop = asyncio.get_running_loop()
    ended = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, ended.set)
    if until_stdin_closes:

        def watch() -> None:
            # Not through its buffer: a thread that still holds that when the process ends makes Python abort.
            while os.read(sys.stdin.fileno(), 4096):
                pass
            loop.call_soon_threadsafe(ended.set)

        # A thread, because not every standard input can be waited for by the event loop.
        threading.Thread(target=watch, daemon=True).start()
    return ended


if __name__ == "__main__":
    asyncio.run(run(read_options(sys.argv[1:])))
