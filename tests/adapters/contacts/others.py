"""Peers that neither we nor our client libraries wrote: ser2net, and modules on libmodbus. `tests/run` brings both."""

import asyncio
import hashlib
import mmap
import os
import signal
import socket
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.adapters.contacts.peers import until

HERE = Path(__file__).parent
BUILT = HERE.parents[2] / ".festoon/tests/built"
HOST = "127.0.0.1"
SER2NET = "/usr/sbin/ser2net"

LINES = {"CTS": 1, "DSR": 2, "DCD": 4, "RI": 8}
"""The bit of each status line in `status_lines.c`."""

UNIT_BYTES = 64
COILS, PRESENT, EXCEPTION = 16, 32, 33
"""Where what is of a unit, in `libmodbus_modules.c`; its discrete inputs come first."""


def _built(source: str, *flags: str) -> str:
    """The path of a C program of this folder, built where it or how it is built is new."""
    command = ["gcc", "-O1", "-Wall", "-Wextra", "-Werror", str(HERE / source), *flags]
    made_from = hashlib.sha256(repr(command).encode() + (HERE / source).read_bytes()).hexdigest()
    built = BUILT / f"{Path(source).stem}-{made_from[:16]}"
    if not built.exists():
        BUILT.mkdir(parents=True, exist_ok=True)
        # Tests that run side by side may build it twice, and none sees half of it.
        unfinished = built.with_suffix(f".{os.getpid()}")
        subprocess.run([*command, "-o", str(unfinished)], check=True)
        unfinished.rename(built)
    return str(built)


class Program:
    """Somebody else's program, which a test stalls, kills and starts again."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[str] | None = None

    def stall(self) -> None:
        """It keeps its connections and does nothing."""
        self._signal(signal.SIGSTOP)

    def go_on(self) -> None:
        self._signal(signal.SIGCONT)

    def kill(self) -> None:
        """It is gone; a second time does nothing."""
        self._signal(signal.SIGKILL)
        if self._process is not None:
            self._process.wait()

    def _run(self, *words: str, output: int = subprocess.DEVNULL, **variables: str) -> "subprocess.Popen[str]":
        environment = {**os.environ, **variables}
        self._process = subprocess.Popen(words, env=environment, stdout=output, stderr=subprocess.DEVNULL, text=True)
        return self._process

    def _signal(self, which: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(which)


class SerialServer(Program):
    """ser2net before one device whose status lines a test sets. `places` has its `host:port` by scheme.

    It looks at the lines when a client connects, and then once a second.
    """

    def __init__(self, folder: Path, device: str, free_port: Callable[[], int]) -> None:
        super().__init__()
        self.places = {scheme: f"{HOST}:{free_port()}" for scheme in ("rfc2217", "socket")}
        self._ready = free_port()
        self._lines = folder / "lines"
        self._config = folder / "ser2net.yaml"
        accepters = {"rfc2217": "telnet(rfc2217=true),tcp", "socket": "tcp"}
        connections = "".join(
            f"connection: &{scheme}\n"
            f"  accepter: {accepters[scheme]},{place.replace(':', ',')}\n"
            f"  connector: serialdev(nouucplock),{device},115200N81\n"
            for scheme, place in self.places.items()
        )
        admin = f"admin:\n  accepter: tcp,{HOST},{self._ready}\n"
        self._config.write_text(f"%YAML 1.1\n---\n{connections}{admin}", encoding="utf-8")
        self.set_lines()

    def set_lines(self, *closed: str) -> None:
        """These are closed from now on, and the others open."""
        written = self._lines.with_suffix(".new")
        written.write_bytes(bytes([sum(LINES[name] for name in closed)]))
        written.rename(self._lines)

    async def start(self) -> None:
        """Have it listen; its own port for orders is the last that it opens."""
        preload = _built("status_lines.c", "-shared", "-fPIC")
        self._run(SER2NET, "-n", "-c", str(self._config), LD_PRELOAD=preload, STATUS_LINES=str(self._lines))
        await until(lambda: _listens(self._ready))


class Modules(Program):
    """Units with 16 discrete inputs and 16 coils each, in a process that libmodbus serves."""

    def __init__(self, folder: Path, *units: int) -> None:
        super().__init__()
        self.number = 0
        self._file = folder / "modules"
        self._file.write_bytes(bytes(256 * UNIT_BYTES))
        with self._file.open("r+b") as file:
            self._shared = mmap.mmap(file.fileno(), 0)
        for unit in units:
            self.be_there(unit)

    def be_there(self, unit: int, *, there: bool = True) -> None:
        """It answers; one that is not there is silent."""
        self._shared[unit * UNIT_BYTES + PRESENT] = there

    def fail(self, unit: int, exception: int) -> None:
        """It answers everything with that exception."""
        self._shared[unit * UNIT_BYTES + EXCEPTION] = exception

    def set_input(self, unit: int, address: int, closed: bool) -> None:
        self._shared[unit * UNIT_BYTES + address] = closed

    def set_coil(self, unit: int, address: int, closed: bool) -> None:
        self._shared[unit * UNIT_BYTES + COILS + address] = closed

    async def start_tcp(self) -> None:
        """Serve over TCP, on the port it had before if it had one."""
        self.number = await self._start("tcp", str(self.number))

    async def start_rtu(self, device: str, unit: int) -> None:
        """One unit serves at a serial line, 115200 baud 8N1."""
        await self._start("rtu", device, str(unit))

    async def _start(self, *words: str) -> int:
        """Have it serve; the number that it then tells."""
        program = _built("libmodbus_modules.c", "-I/usr/include/modbus", "-lmodbus")
        process = self._run(program, str(self._file), *words, output=subprocess.PIPE)
        assert process.stdout is not None
        with process.stdout:
            return int(await asyncio.to_thread(process.stdout.readline))


@contextmanager
def gone_at_the_end(peer: Program) -> Iterator[None]:
    """Whatever happens, its process is gone then."""
    try:
        yield
    finally:
        peer.kill()


def _listens(number: int) -> bool:
    with socket.socket() as trial:
        return trial.connect_ex((HOST, number)) == 0
