"""pymodbus's own server behind a pseudo-terminal, as a board of eight relays and eight inputs."""

from __future__ import annotations

import asyncio
import os
import pty
import select
import threading
import tty
from collections.abc import Iterator
from contextlib import contextmanager

from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice

READ_INPUTS, WRITE_COIL = 2, 5
CHANNELS = 8


class ServedBoard:
    """What the server answers; an input is live while the relay of the same number is closed."""

    def __init__(self) -> None:
        self.closed = [False] * CHANNELS
        self.refuses = False
        self.port = ""
        self._gone = threading.Event()

    async def act(
        self, code: int, _start: int, address: int, count: int, now: list[int], values: list[bool] | None
    ) -> ExcCodes | None:
        if self.refuses:
            return ExcCodes.DEVICE_FAILURE
        if code == WRITE_COIL and values:
            self.closed[address] = bool(values[0])
        if code == READ_INPUTS:
            now[address : address + count] = [int(closed) for closed in self.closed[address : address + count]]
        return None

    def unplug(self) -> None:
        """Nothing gets through any more."""
        self._gone.set()

    def _carry(self, ends: tuple[int, int]) -> None:
        while not self._gone.is_set():
            for end in select.select(ends, [], [], 0.05)[0]:
                os.write(ends[1] if end == ends[0] else ends[0], os.read(end, 256))


@contextmanager
def served() -> Iterator[ServedBoard]:
    """A board that answers on ``port``."""
    board = ServedBoard()
    (outer, outer_port), (inner, inner_port) = pty.openpty(), pty.openpty()
    for port in (outer_port, inner_port):
        tty.setraw(port)
    board.port = os.ttyname(outer_port)
    bits = [SimData(0, count=CHANNELS, values=False, datatype=DataType.BITS)]
    words = [SimData(0, count=CHANNELS, values=0)]
    device = SimDevice(id=1, simdata=(bits, bits, words, words), action=board.act)
    loop = asyncio.new_event_loop()
    ready = threading.Event()

    async def serve() -> None:
        server = ModbusSerialServer(device, port=os.ttyname(inner_port), baudrate=9600)
        await server.serve_forever(background=True)
        ready.set()
        while not board._gone.is_set():
            await asyncio.sleep(0.02)
        await server.shutdown()

    threads = [
        threading.Thread(target=board._carry, args=((outer, inner),)),
        threading.Thread(target=loop.run_until_complete, args=(serve(),)),
    ]
    for thread in threads:
        thread.start()
    assert ready.wait(10)
    try:
        yield board
    finally:
        board.unplug()
        for thread in threads:
            thread.join()
        loop.close()
        for end in (outer, outer_port, inner, inner_port):
            os.close(end)
