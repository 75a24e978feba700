"""The air of a house and of its one air stream, in closed form between events.

A :class:`Store` is a mass of metal in the stream (heat exchanger, cooling coil). It takes up a steady heat and gives it
to the air that passes; the air that leaves is warmer by a share of the store's excess over the return air. The room
takes what the air carries and loses heat outdoors. Return air is room air. All temperatures in °C, heat in watts.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import simpy

from stagecall.plant.parameters import Conductance, HeatCapacity, Length, Parameters

SPECIFIC_HEAT = 1006.0
"""J/kg K of dry air."""
_SEA_LEVEL = 101_325.0
_GAS_CONSTANT = 287.05


class House(Parameters, frozen=True, kw_only=True):
    """The house: 2 to 6 kBtu/°F and 300 to 800 Btu/h °F are trade knowledge, no published source found."""

    heat_capacity: HeatCapacity = 7.6e6
    heat_loss: Conductance = 290.0
    altitude: Length = 0.0


def density(altitude: float, temperature: float) -> float:
    """Kilograms a cubic metre of dry air at *altitude* metres (standard atmosphere) and *temperature* °C."""
    pressure = _SEA_LEVEL * math.pow(1 - 2.25577e-5 * altitude, 5.25588)
    return pressure / (_GAS_CONSTANT * (temperature + 273.15))


class Store:
    """A mass in the air stream; ``excess`` is its temperature above the return air's, in kelvin.

    ``time_constant`` in ms holds at the rated stream; ``effectiveness`` is the share of the excess that passing air
    takes on; ``still`` (W/K) is what it loses when no air passes.
    """

    __slots__ = ("capacity", "effectiveness", "excess", "heat", "still")

    def __init__(self, time_constant: float, effectiveness: float, still: float, rated_stream: float) -> None:
        self.effectiveness, self.still = effectiveness, still
        self.capacity = time_constant / 1000 * effectiveness * rated_stream
        self.excess = 0.0
        self.heat = 0.0


class Air:
    """The air of one house. ``now`` is the moment for which the temperatures are held."""

    def __init__(self, env: simpy.Environment, house: House, room: float, outdoor: float) -> None:
        self._env, self.house = env, house
        self._carries = density(house.altitude, 21.0) * SPECIFIC_HEAT
        self.room, self.outdoor = room, outdoor
        self.flow = 0.0
        self.passage = 1.0
        """Share of the blower's air that ice on a coil lets through."""
        self.stores: list[Store] = []
        self._listeners: list[Callable[[], None]] = []
        self._outdoors: list[Callable[[], None]] = []
        self._since = 0

    def store(self, time_constant: float, effectiveness: float, still: float, rated_flow: float) -> Store:
        """Put a mass into the stream; the time constant (ms) holds at *rated_flow* (m³/s)."""
        store = Store(time_constant, effectiveness, still, self.stream(rated_flow))
        self.stores.append(store)
        return store

    def stream(self, flow: float) -> float:
        """W/K that a flow (m³/s) carries for each kelvin it is warmed, at the density of 21 °C."""
        return self._carries * flow

    def changed(self, listener: Callable[[], None]) -> None:
        """Call *listener* whenever a flow, heat or surrounding has changed, so that it can look ahead anew."""
        self._listeners.append(listener)

    def surroundings_changed(self, listener: Callable[[], None]) -> None:
        """Call *listener* whenever room or outdoor air was set to another temperature."""
        self._outdoors.append(listener)

    def set_flow(self, flow: float) -> None:
        """The blower now moves that many m³/s."""
        self.settle()
        self.flow = flow
        self._tell()

    def set_heat(self, store: Store, heat: float) -> None:
        """The store now takes up that many watts (negative: gives them to a refrigerant)."""
        self.settle()
        store.heat = heat
        self._tell()

    def set_surroundings(self, room: float | None = None, outdoor: float | None = None) -> None:
        """Set the room's or the outdoor air to a temperature."""
        self.settle()
        self.room = self.room if room is None else room
        self.outdoor = self.outdoor if outdoor is None else outdoor
        for listener in self._outdoors:
            listener()
        self._tell()

    def _tell(self) -> None:
        for listener in self._listeners:
            listener()

    def settle(self) -> None:
        """Bring every temperature to this moment."""
        elapsed = (int(self._env.now) - self._since) / 1000
        if elapsed > 0:
            motion = Motion(self)
            excesses = [motion.excess(i, elapsed) for i in range(len(self.stores))]
            self.room = motion.room(elapsed)
            for store, excess in zip(self.stores, excesses, strict=True):
                store.excess = excess
        self._since = int(self._env.now)

    def room_now(self) -> float:
        """Room air now, °C."""
        self.settle()
        return self.room

    def supply(self) -> float:
        """Supply air now, °C. Where the air stands, it takes on the stores' temperature by the same share."""
        self.settle()
        return self.room + sum(store.effectiveness * store.excess for store in self.stores)

    def delivered(self) -> float:
        """Watts that the stream carries into the room now."""
        self.settle()
        return self.stream(self.flow) * sum(store.effectiveness * store.excess for store in self.stores)

    def crossing(self, store: Store, share: float, threshold: float) -> int | None:
        """Ms until return air plus *share* of the store's excess passes *threshold* (°C), as things now stand.

        None where it does not within a day.
        """
        self.settle()
        motion = Motion(self)
        index = self.stores.index(store)

        low, high = motion.bounds(index, share)
        if threshold < low or threshold > high:
            return None

        def beyond(seconds: float) -> float:
            return motion.room(seconds) + share * motion.excess(index, seconds) - threshold

        return first_change_of_sign(beyond, 86_400.0)

    def supply_crossing(self, threshold: float) -> int | None:
        """Ms until the supply air passes *threshold* (°C), as things now stand; None where it does not in an hour."""
        self.settle()
        motion = Motion(self)

        def beyond(seconds: float) -> float:
            warmer = sum(store.effectiveness * motion.excess(i, seconds) for i, store in enumerate(self.stores))
            return motion.room(seconds) + warmer - threshold

        return first_change_of_sign(beyond, 3600.0)


class Motion:
    """How the temperatures move from now on: each a constant and decaying exponentials."""

    __slots__ = ("_decays", "_end", "_room_decay", "_settling", "_stores")

    def __init__(self, air: Air) -> None:
        loss, mass = air.house.heat_loss, air.house.heat_capacity
        stream = air.stream(air.flow)
        self._stores: list[tuple[float, float, float]] = []  # end, distance from it, rate
        self._settling: list[tuple[float, float]] = []  # kelvin, rate
        forcing = loss * air.outdoor
        for store in air.stores:
            carried = store.effectiveness * stream
            conductance = carried or store.still
            end, rate = store.heat / conductance, conductance / store.capacity
            distance = store.excess - end
            self._stores.append((end, distance, rate))
            forcing += carried * end
            if carried and distance:
                self._settling.append((carried * distance / (loss - mass * rate), rate))
        self._end = forcing / loss
        self._room_decay = loss / mass
        self._decays = air.room - self._end - sum(kelvin for kelvin, _ in self._settling)

    def excess(self, index: int, seconds: float) -> float:
        """Kelvin of a store above the return air."""
        end, distance, rate = self._stores[index]
        return end + distance * math.exp(-rate * seconds)

    def bounds(self, index: int, share: float) -> tuple[float, float]:
        """Between what the room plus *share* of a store's excess will surely stay, °C."""
        end, distance, _ = self._stores[index]
        slack = sum(abs(kelvin) for kelvin, _ in self._settling)
        rooms = (self.room(0.0), self._end)
        excesses = (share * end, share * (end + distance))
        return min(rooms) - slack + min(excesses), max(rooms) + slack + max(excesses)

    def room(self, seconds: float) -> float:
        """Room air, °C."""
        found = self._end + self._decays * math.exp(-self._room_decay * seconds)
        for kelvin, rate in self._settling:
            found += kelvin * math.exp(-rate * seconds)
        return found


def first_change_of_sign(value: Callable[[float], float], horizon: float) -> int | None:
    """Whole ms (rounded up) until *value* of seconds first changes sign; None where it does not within *horizon*.

    A sum of three exponentials turns at most twice, with time constants of a minute and more: steps that begin at 2 s
    and lengthen do not step over both.
    """
    begin, step = 0.0, 2.0
    positive = value(0.0) > 0
    while begin < horizon:
        end = begin + step
        if (value(end) > 0) != positive:
            while end - begin > 0.0005:
                middle = (begin + end) / 2
                if (value(middle) > 0) != positive:
                    end = middle
                else:
                    begin = middle
            return max(1, math.ceil(end * 1000))
        begin, step = end, step * 1.25
    return None
