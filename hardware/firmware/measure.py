"""Flash, RAM, worst stack and fuse bytes of a built firmware; refuses what does not fit.

Usage: python3 measure.py NAME ELF FLASH_BYTES RAM_BYTES CALL_BYTES LOW HIGH EXTENDED
(CALL_BYTES: what a call puts on the stack: 2, or 3 where flash is over 128 KiB; fuse bytes in hexadecimal)

The worst stack is read from the machine code: pushes and frame of every function, the deepest path of calls from main,
and the deepest interrupt on top of it (interrupts do not nest here). A call through a pointer counts as the deepest of
all that the pointer can be: the port's functions, and the two calls back into the core, which only call the port's.
"""

from __future__ import annotations

import re
import subprocess
import sys
from functools import cache

PORT = ("stamps_now", "drive", "uart_receive", "uart_send", "stamps_sample", "millivolts", "self_test", "serial",
        "keep_serial")  # fmt: skip
BACK = ("input_changed", "wire_apart")
_LABEL = re.compile(r"^[0-9a-f]+ <([^>]+)>:$")
_LINE = re.compile(r"^\s*[0-9a-f]+:\t(?:[0-9a-f]{2} )+\s*\t(\S+)\t?([^;]*)(?:;.*?<([^>+]+)(\+0x[0-9a-f]+)?>)?")


def run(*command: str) -> str:
    """What a command says."""
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout  # noqa: S603 - our own build


class Function:
    """Its own bytes on the stack, whom it calls, and whether it calls through a pointer."""

    def __init__(self) -> None:
        self.own, self.calls, self.indirect, self.frame_low = 0, set[str](), False, 0


def _allocates(word: str, operands: str, call_bytes: int, f: Function) -> int:
    """Bytes by which one instruction lowers the stack; the two halves of a large frame are joined in *f*."""
    if word == "push":
        return 1
    if word == "rcall" and operands.strip() == ".+0":
        return call_bytes
    if word == "sbiw" and operands.startswith("r28"):
        return int(operands.split(",")[1], 16)
    if word == "subi" and operands.startswith("r28"):
        f.frame_low = int(operands.split(",")[1], 16)
    if word == "sbci" and operands.startswith("r29"):
        size = f.frame_low | int(operands.split(",")[1], 16) << 8
        return size if size < 0x8000 else 0  # the epilogue adds by subtracting a negative number
    return 0


def functions(elf: str, call_bytes: int) -> dict[str, Function]:
    """Every function of the program by name."""
    found: dict[str, Function] = {}
    name, f = "", Function()
    for line in run("avr-objdump", "-d", elf).splitlines():
        if label := _LABEL.match(line):
            name, f = label[1], Function()
            found[name] = f
        elif match := _LINE.match(line):
            word, operands, target, offset = match.groups()
            f.own += _allocates(word, operands, call_bytes, f)
            if word in ("icall", "eicall", "ijmp", "eijmp"):
                f.indirect = f.indirect or name != "__tablejump2__"
            elif word in ("call", "rcall", "jmp", "rjmp") and target and target != name:
                f.calls.add(target)
                if target == "__prologue_saves__":
                    f.own += 18 - int(offset or "0", 16) // 2
    return found


def reachable(found: dict[str, Function], start: tuple[str, ...]) -> set[str]:
    """The functions that a direct call leads to."""
    seen: set[str] = set()
    queue = [name for name in start if name in found]
    while queue:
        name = queue.pop()
        if name not in seen:
            seen.add(name)
            queue += [c for c in found[name].calls if c in found]
    return seen


def worst(found: dict[str, Function], call_bytes: int) -> tuple[int, list[str]]:
    """Bytes of the deepest stack, and the path of calls that reaches it."""
    from_back = reachable(found, BACK)

    @cache
    def depth(name: str, above: tuple[str, ...] = ()) -> tuple[int, tuple[str, ...]]:
        if name in above:
            raise SystemExit(f"{name} calls itself: the stack has no bound")
        f = found[name]
        below = [depth(c, (*above, name)) for c in sorted(f.calls) if c in found]
        if f.indirect:
            below += [depth(c, (*above, name)) for c in PORT if c in found]
            if name not in from_back:
                below += [depth(c, (*above, name)) for c in BACK if c in found]
        deepest = max(below, default=(-call_bytes, ()))
        return f.own + call_bytes + deepest[0], (name, *deepest[1])

    main, path = depth("main")
    interrupts = [depth(n)[0] for n in found if re.fullmatch(r"__vector_\d+", n)]
    return main + max(interrupts), list(path)


def sections(elf: str) -> dict[str, int]:
    """Bytes of each section."""
    rows = (line.split() for line in run("avr-size", "-A", elf).splitlines())
    return {row[0]: int(row[1]) for row in rows if len(row) == 3 and row[0].startswith(".")}


def fuse_bytes(elf: str) -> bytes:
    """Low, high and extended fuse byte as the program file carries them."""
    dump = run("avr-objdump", "-s", "-j", ".fuse", elf)
    return bytes.fromhex(re.findall(r"^ [0-9a-f]+ ([0-9a-f]+)", dump, re.MULTILINE)[0])


def main(arguments: list[str]) -> None:
    """Say the figures, and end with a message where they will not do."""
    name, elf = arguments[:2]
    flash_bytes, ram_bytes, call_bytes = (int(a) for a in arguments[2:5])
    fuses = bytes.fromhex("".join(arguments[5:8]))
    size = sections(elf)
    flash, ram = size[".text"] + size[".data"], size[".data"] + size[".bss"]
    stack, path = worst(functions(elf, call_bytes), call_bytes)
    sys.stdout.write(
        f"{name}: flash {flash} of {flash_bytes}, RAM {ram} of {ram_bytes}, worst stack {stack}"
        f" ({ram_bytes - ram - stack} bytes spare), fuses {fuse_bytes(elf).hex(' ')}\n"
        f"  deepest: {' > '.join(path)} + interrupt\n"
    )
    if flash > flash_bytes or ram + stack > ram_bytes:
        raise SystemExit(f"{name}: does not fit")
    if fuse_bytes(elf) != fuses:
        raise SystemExit(f"{name}: fuse bytes must be {fuses.hex(' ')}")


if __name__ == "__main__":
    main(sys.argv[1:])
