"""``stagecall board``: which ports there are, what answers at one, and a bench tried by hand or point by point."""

from __future__ import annotations

import json
import sys

import msgspec

from stagecall.cli.running import Options, run
from stagecall.cli.saying import say, tell
from stagecall.documents import Library, parse
from stagecall.errors import ExitCode, UsageError
from stagecall.model.sequence import Sequence
from stagecall.report.page import Page
from stagecall.rigs.board import identify, ports
from stagecall.rigs.clock import SystemClock
from stagecall.rigs.greeting import Identity
from stagecall.run.point_to_point import NAME, telling, unchecked, written


def list_ports(*, as_json: bool) -> int:
    """The serial ports; none is opened."""
    found = ports()
    if as_json:
        tell(json.dumps({"ports": msgspec.to_builtins(found)}, indent=2))
        return ExitCode.PASSED
    page = Page(sys.stdout)
    for port in found:
        page.paragraph(f"{port.name}  {port.what}" + ("  (in use by a run)" if port.held else ""))
    if not found:
        page.paragraph("There is no serial port on this computer. Is the board plugged in?")
    tell(page.text())
    return ExitCode.PASSED


def tell_identity(port: str, *, as_json: bool) -> int:
    """What answers at a port, and how well it is.

    Raises:
        UsageError: the port cannot be opened, or no board answers.
    """
    board = identify(port, SystemClock())
    if as_json:
        tell(json.dumps(msgspec.to_builtins(board), indent=2))
    else:
        page = Page(sys.stdout)
        for line in _told(board):
            page.paragraph(line)
        tell(page.text())
    return ExitCode.PASSED if board.self_test == "0" else ExitCode.FAILED


def _told(board: Identity) -> list[str]:
    known, blind = board.bounds.width / 1000, board.bounds.blind / 1000
    test = "passed" if board.self_test == "0" else f"FAILED ({board.self_test}). Use this board for nothing."
    return [
        f"{board.model}, serial {'not set' if board.serial == '0' else board.serial}, firmware {board.version}",
        f"channels: {board.relays} relays, {board.inputs} AC inputs, {board.analogs} analog inputs",
        f"a change of an input is known to {known:g} ms; a pulse of less than {blind:g} ms may be missed",
        "(both of the simulated firmware and the worst case of the parts, not measured on hardware)",
        f"self-test, every output as it is driven: {test}",
        f"stopped: {'no' if board.stopped == 'NONE' else board.stopped.lower()}",
    ]


def exercise(options: Options) -> int:
    """Calls, switches and power by hand.

    Raises:
        StagecallError: nothing was called, and why.
    """
    if not sys.stdin.isatty():
        raise UsageError("an exercise needs a person at a terminal, who types what is to move.")
    return run(options, exercise=True)


def point_to_point(options: Options) -> int:
    """Each relay and each input against the kit.

    Raises:
        StagecallError: nothing was called, and why.
    """
    if options.system is None or options.kit is None:
        raise UsageError("say which mockup and which bench, with --system and --kit")
    library = Library()
    kit, system = library.load("kit", options.kit), library.load("system", options.system)
    if system.document.energy.state != "mockup":
        raise UsageError(
            f"{options.system} is no mockup: point to point is for a bench on which nothing could run "
            "(energy: fuel, compressor and elements none)"
        )
    attended = sys.stdin.isatty() and not options.unattended
    text = written(kit.document, system.document.control.terminals, attended=attended)
    library.lend("sequence", NAME, parse(Sequence, text.encode(), f"{NAME}.yaml"))
    library.lend("kit", options.kit, msgspec.structs.replace(kit, document=telling(kit.document)))
    if not attended and (left := unchecked(kit.document)):
        page = Page(sys.stderr)
        page.paragraph(f"Nobody is there to hold leads, so these inputs are not checked: {', '.join(left)}.")
        say(page.text().rstrip())
    return run(msgspec.structs.replace(options, sequences=(NAME,)), library=library)
