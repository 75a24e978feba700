"""The rig on a relay and sense board, over any link: calls by relay, points by input, one poll every 50 ms.

The poll is the board's heartbeat. What the board stamps is put onto the run's clock by :mod:`stagecall.rigs.timeline`.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from typing import TYPE_CHECKING

from stagecall.errors import RigLostError
from stagecall.model.event import Call, Edge, Note, Power, Reading, Snapshot, Switch
from stagecall.points import HEAT_CALLS
from stagecall.rigs.board_state import STOPPED, State, read_state, why_started
from stagecall.rigs.channels import RELAY_US, Channels, configuration, listed
from stagecall.rigs.contract import Batch, Move, OnOff, Rig
from stagecall.rigs.device_clock import RATE, DeviceClock
from stagecall.rigs.exchange import Exchange, Reply
from stagecall.rigs.greeting import Identity
from stagecall.rigs.probes import Probes
from stagecall.rigs.timeline import ROUNDING_US, Timeline

if TYPE_CHECKING:
    from stagecall.rigs.registry import RigSpec

HEARTBEAT_US = 50_000
"""The board stops by itself after 950 ms without a command; the run looks at the person as often as at the board."""
SETTLING_US = 150_000
"""After the relays in the switches have closed at the start: until all that follows has been seen."""
SLOW_LINE_US = 5_000_000
"""How long a line may be too slow to tell times as exactly as the kit declares."""
DIRECT = frozenset({"call_volts", "coil_volts", "load_volts", "contact"})
"""What an input sees itself; before all else stands a sensor, whose own time is as wide as the kit's row."""
NOISE_US = 60_000_000
"""A board may refuse one line within this time; more is a line that must not be run on."""


class BoardRig(Rig):
    """One board that has been greeted. Nothing moves before the first snapshot is asked for.

    ``runs_ahead``: the link's time passes only when it is asked to.
    """

    name = "board"
    heartbeat = 950

    def __init__(
        self, exchange: Exchange, identity: Identity, channels: Channels, spec: RigSpec, *, runs_ahead: bool = False
    ) -> None:
        super().__init__()
        self.identity = identity
        self.kept_as = exchange.link.name if identity.serial == "0" else f"board-{identity.serial}"
        self.tested_on, self.bounds, self.runs_ahead = spec.tested_on, channels.bounds, runs_ahead
        self._exchange, self._channels, self._minimum_open = exchange, channels, spec.minimum_open
        self._challenged = spec.challenges
        self._makes = channels.bounds.makes_calls
        self._probes = Probes(channels, exchange)
        self._time: Timeline | None = None
        self._next_event = 0
        self._polled = 0
        self._slow_since: int | None = None
        self._refused = 0
        self._noisy: list[int] = []
        self._trouble = ""
        self._over = False
        self._closed = False
        self._wanted: frozenset[str] = frozenset()
        self._made: set[str] = set()
        self._went: dict[str, int] = {}
        self._opened: set[str] = set()
        self._power = True
        self._states: dict[str, str] = {}
        states = [bounds for name, bounds in self.bounds.points.items() if name not in channels.every]
        self._slack = max((max(one.late_on[0], one.late_off[0]) for one in states), default=0)

    @property
    def now(self) -> int:
        """The host's clock, ms since the first snapshot."""
        return 0 if self._time is None else (self._exchange.link.now_us() - self._time.zero) // 1000

    @property
    def _line(self) -> Timeline:
        if self._time is None:
            self._time = self._begin()
        return self._time

    # -- the beginning ------------------------------------------------------------------------------------------------

    def snapshot(self) -> Snapshot:
        """What the board sees; the first one makes it ready and sets the run's clock to 0."""
        return self._shot(self._line.settled)

    def _begin(self) -> Timeline:
        stopped = self._make_ready() if self._makes else ""
        reply, state = self._poll()
        self._exchange.events()  # what came before the first poll is no edge
        self._next_event, self._refused = state.coming, state.refused
        line = Timeline(DeviceClock(reply.time, reply.sent, reply.came), reply.time, self._room())
        self._look_at(state)
        if stopped:
            line.hold(Note(t=1, text=f"the board had stopped before: {STOPPED.get(stopped, stopped)}"))
        if self._challenged and self._channels.board.compressor:
            seconds = f"{self._minimum_open / 1000:g} s"
            text = f"a step calls early on purpose: the board itself keeps compressor calls open for {seconds} only"
            line.hold(Note(t=1, text=text))
        return line

    def _make_ready(self) -> str:
        """Set up and locked, the switches' relays closed; gives why it had stopped before, if it had."""
        ask = self._exchange.done
        ask("*RST")
        for command in configuration(self._channels.board, self._minimum_open):
            ask(command)
        stopped = ask("STOP?").data
        ask("STOP:CLE")
        ask("OUTP ON")
        if self._channels.held:
            ask(f"ROUT:CLOS {listed(self._channels.held)}")
        for _ in range(0, SETTLING_US, HEARTBEAT_US):
            self._exchange.listen(HEARTBEAT_US)
            ask("STAT?")
        return "" if stopped == "NONE" else stopped

    def _room(self) -> float:
        """How exactly the clocks must be known so that every event is told as exactly as the kit declares, µs."""
        widths = [bounds.width for name, bounds in self.bounds.points.items() if name not in self._channels.every]
        inputs = [width * 1000 - self.identity.bounds.width for width in widths]
        relays = self.bounds.call_width * 1000 - (RELAY_US[1] - RELAY_US[0])
        return min([*inputs, relays] if self._makes else inputs, default=relays) - ROUNDING_US

    def _shot(self, t: int) -> Snapshot:
        calls = tuple(sorted(self._made))
        return Snapshot(t=t, calls=calls, power=_word(on=self._power), points=dict(self._states))

    def _look_at(self, state: State) -> None:
        """Take all states from a poll."""
        for number, lamp in self._channels.lamps.items():
            self._states[lamp.point] = lamp.live if state.inputs >> (number - 1) & 1 else lamp.dead
        if not self._makes:
            live = {name[5:] for name, at in self._states.items() if name.startswith("wire_") and at == "on"}
            self._made, self._power = live - {"R"}, self._states.get("wire_R", "on") == "on"

    # -- events -------------------------------------------------------------------------------------------------------

    def _advance(self, until: int) -> Batch:  # noqa: ARG002 - one poll whatever is asked for
        line = self._line
        if self._trouble and line.empty:
            trouble, self._trouble = self._trouble, ""
            raise RigLostError(trouble)
        try:
            self._exchange.listen(max(0, self._polled + HEARTBEAT_US - self._exchange.link.now_us()))
            for name, value in self._probes.read(self.now):
                line.hold(Reading(t=self.now, point=name, value=value))
            self._turn()
        except RigLostError as lost:
            if line.empty:
                raise
            self._over, self._trouble = True, str(lost)
            line.give_up()
        return Batch(line.due(), line.settled)

    def _poll(self) -> tuple[Reply, State]:
        reply = self._exchange.done("STAT?")
        self._polled = reply.sent
        return reply, read_state(reply.data, self._exchange.link.name)

    def _turn(self) -> None:
        """One poll, and all that came with it."""
        reply, state = self._poll()
        if not self._line.gate(reply.time, reply.sent, reply.came):
            self._start_anew(reply, state)
            return
        for body in self._exchange.events():
            self._hear(body)
        if state.coming > self._next_event:
            self._lose(reply.time, state, f"{state.coming - self._next_event} events were lost on the line")
        self._check(state)
        if self._line.settle(state.settled - self.identity.bounds.live_most, self._slack):
            self._slow_since = None
        elif self._slow_since is None:
            self._slow_since = reply.came
        elif reply.came - self._slow_since > SLOW_LINE_US:
            known = f"times are known to {self._line.span / 1000:.0f} ms only"
            raise RigLostError(f"the line to {self._exchange.link.name} has become too slow: {known}")

    def _hear(self, body: str) -> None:
        number, time, what, *rest = [*body.split(","), "", ""]
        if not (number.isdecimal() and time.isdecimal()):
            raise RigLostError(f"{self._exchange.link.name} tells nonsense: {body}")
        if int(number) != self._next_event:
            return  # some are missing: the poll's own count tells of it
        match what, rest:
            case "INP", [channel, live, *_]:
                self._input(int(channel), int(time), live=live == "1")
            case "READ", [relay, live, *_]:
                self._read_back(int(relay), int(time), live=live == "1")
            case "STOP", [reason, *_]:
                self._all_open(int(time))
                self._end(f"the board opened everything: {STOPPED.get(reason, reason)}")
            case "LOST", _:
                return  # as one that is missing
        self._next_event += 1

    def _input(self, channel: int, time: int, *, live: bool) -> None:
        lamp = self._channels.lamps.get(channel)
        if lamp is None or self._states[lamp.point] == (state := lamp.live if live else lamp.dead):
            return
        self._states[lamp.point] = state
        promised, board = self.bounds.points[lamp.point], self.identity.bounds
        least, most = promised.late_off if state in ("off", "open") else promised.late_on
        low = time - (board.live_most if live else board.dead_after)
        high = time - board.live_least if live else time + board.dead_before
        spread = 0 if promised.sensed in DIRECT else (most - least) * 1000
        edge = Edge(point=lamp.point, state=state)
        self._line.stamp(edge, low - spread, high, width=most - least, least=least)
        if not self._makes and lamp.point.startswith("wire_"):
            self._witness(lamp.point[5:], low, high, on=live)

    def _witness(self, terminal: str, low: int, high: int, *, on: bool) -> None:
        event: Call | Power = Power(state=_word(on=on))
        if terminal == "R":
            self._power = on
        else:
            (self._made.add if on else self._made.discard)(terminal)
            event = Call(terminal=terminal, state=_word(on=on))
        self._line.stamp(event, low, high, width=self.bounds.call_width)

    def _read_back(self, relay: int, time: int, *, live: bool) -> None:
        call = next((call for call, number in self._channels.board.calls.items() if number == relay), f"relay {relay}")
        said = "is live with its relay open" if live else "has stayed dead with its relay closed"
        self._line.hold(Note(t=self._line.ms(time), text=f"the call wire of {call} {said}"))

    # -- trouble ------------------------------------------------------------------------------------------------------

    def _end(self, why: str) -> None:
        """A rig that makes calls is lost by it, once what is known has been told; one that looks on goes on."""
        if self._makes and not self._over:
            self._over, self._trouble = True, why

    def _lose(self, time: int, state: State, why: str) -> None:
        """Nothing is known of what happened up to the board's *time*; the poll says how it stands now."""
        self._next_event = state.coming
        self._look_at(state)
        self._line.hold(self._shot(self._line.break_off(time, why)))
        self._end(why)

    def _start_anew(self, reply: Reply, state: State) -> None:
        """The board's own clock began again."""
        said = [body.split(",") for body in self._exchange.events()]
        causes = [fields[3] for fields in said if fields[2:3] == ["BOOT"] and len(fields) > 3]
        why = why_started(causes[-1]) if causes else "the board's clock jumped"
        if self._over:
            raise RigLostError(why)  # again, before the first time could be told
        self._line.start_anew(reply.time, reply.sent, reply.came)
        if self._makes:
            self._all_open(reply.time)
        self._lose(reply.time, state, why)

    def _check(self, state: State) -> None:
        if self._makes and state.stopped:
            self._end(f"the board holds everything open: {state.stopped}")
        elif self._makes and not (state.locked and state.master):
            self._end("the board is not set up any more: it has been reset, or another program uses it")
        now, count = self._exchange.link.now_us(), (state.refused - self._refused) % 65536
        self._refused = state.refused
        self._noisy = [at for at in self._noisy if at > now - NOISE_US] + [now] * count
        if len(self._noisy) > 1:
            self._end(f"the board refused {len(self._noisy)} damaged lines within a minute: the line is too noisy")

    def _all_open(self, time: int) -> None:
        """What the board did by itself at its *time*."""
        for call in sorted(self._made):
            self._moved(Call(terminal=call, state="off"), time)
        for name in sorted(set(self._channels.board.opens) - self._opened):
            self._moved(Switch(name=name, state="open"), time)
        if self._channels.board.power is not None and self._power:
            self._moved(Power(state="off"), time)
            self._power = False
        self._went |= dict.fromkeys(self._made, self.now)
        self._made.clear()
        self._opened |= set(self._channels.board.opens)

    # -- moves and quantities -----------------------------------------------------------------------------------------

    def sample(self, points: frozenset[str]) -> None:
        """Read these quantities from now on, each as often as the kit says."""
        self._probes.sample(points, self.now)

    def not_before(self, move: Move) -> tuple[int, str]:
        """The board's own minimum open, by a clock that may be slow."""
        added = (move.calls or self._wanted) - self._wanted
        went = [self._went.get(call, 0) for call in self._channels.board.compressor if call in added]
        rest = int(self._minimum_open * (1 + 2 * RATE)) if went else 0
        because = f"the board keeps a compressor call open for {self._minimum_open / 1000:g} s"
        return max(went, default=0) + rest, because

    def _move(self, move: Move) -> None:
        """Open first, then close: a new set of calls never overlaps with the old one."""
        if not self._makes:
            return  # what is asked of the installed control is asked of a person
        board = self._channels.board
        wanted = self._wanted if move.calls is None else move.calls
        dropped, added = self._made - wanted, wanted - self._wanted
        self._wanted = wanted
        if dropped:
            self._relays(
                "OPEN",
                [board.calls[call] for call in dropped],
                *(Call(terminal=call, state="off") for call in sorted(dropped)),
            )
            self._made -= dropped
            self._went |= dict.fromkeys(dropped, self.now)
        if (name := move.open_switch) is not None:
            self._relays("OPEN", [board.opens[name]], Switch(name=name, state="open"))
            self._opened.add(name)
        if (name := move.restore) is not None:
            self._relays("CLOS", [board.opens[name]], Switch(name=name, state="closed"))
            self._opened.discard(name)
        if move.power is not None and board.power is not None:
            self._relays("CLOS" if move.power == "on" else "OPEN", [board.power], Power(state=move.power))
            self._power = move.power == "on"
        if added:
            self._relays(
                "CLOS",
                [board.calls[call] for call in added],
                *(Call(terminal=call, state="on") for call in sorted(added)),
            )
            self._made |= added

    def _relays(self, verb: str, relays: Iterable[int], *events: Call | Power | Switch) -> None:
        time = self._exchange.done(f"ROUT:{verb} {listed(relays)}").time
        for event in events:
            self._moved(event, time)

    def _moved(self, event: Call | Power | Switch, time: int) -> None:
        least, most = RELAY_US
        self._line.stamp(event, time + least, time + most, width=self.bounds.call_width)

    def close(self) -> None:
        """Everything off, heat first; then the board is left without a set-up, so that it closes nothing."""
        if self._closed:
            return
        self._closed = True
        heat = [number for call, number in self._channels.board.calls.items() if call in HEAT_CALLS]
        commands = [f"ROUT:OPEN {listed(heat)}"] if heat else []
        with suppress(RigLostError):
            for command in [*commands, "ROUT:OPEN:ALL", "OUTP OFF", "*RST"] if self._makes else []:
                self._exchange.done(command)
        self._exchange.link.close()


def _word(*, on: bool) -> OnOff:
    return "on" if on else "off"
