"""Where benches come from: a process that has loaded everything, and forks one at each order. A python that starts costs more than that."""

import asyncio
import json
import os
import signal
import socket
import sys
from typing import Never

from tests.bench.__main__ import run
from tests.bench.options import read_options

LONGEST_ORDER = 65536


def serve(orders: socket.socket) -> None:
    """Fork a bench for each order: its arguments as a JSON list, and the socket that is its standard input and output."""
    # Nobody asks what became of a bench; whoever ordered it sees its end of the socket close.
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    while True:
        order, sockets, _, _ = socket.recv_fds(orders, LONGEST_ORDER, 1)
        if not order:
            # The tests have ended.
            return
        if os.fork() == 0:
            orders.close()
            _become_bench(sockets[0], json.loads(order))
        os.close(sockets[0])


def _become_bench(stream: int, arguments: list[str]) -> Never:
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    for standard in (sys.stdin, sys.stdout):
        os.dup2(stream, standard.fileno())
    os.close(stream)
    code = 1
    try:
        asyncio.run(run(read_options(arguments)))
        code = 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
    finally:
        if code:
            print(json.dumps({"ended": code}))
        sys.stdout.flush()
        os._exit(code)


if __name__ == "__main__":
    serve(socket.socket(fileno=int(sys.argv[1])))
