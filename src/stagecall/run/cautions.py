"""What is said before any run on a bench or on equipment: the cautions that apply, and what a live system must know."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from stagecall.documents.installation import Installation
from stagecall.errors import UsageError
from stagecall.model import plan
from stagecall.model.equipment import Equipment
from stagecall.model.system import System

_ENERGY = {
    "none": "there is none",
    "shut_off": "the gas cock or oil valve is shut",
    "isolated": "its disconnect is locked off",
    "live": "live",
    "unknown": "unknown, which counts as live",
}


def cautions(installed: System, profiles: Mapping[str, Equipment], sequences: tuple[plan.Sequence, ...]) -> list[str]:
    """The cautions that apply to this system and these sequences, a sentence or two each."""
    said = list(_of_the_system(installed, Installation.of(installed, profiles)))
    steps = [step for one in sequences if not one.not_applicable for step in one.steps if not step.not_applicable]
    if any(step.open_switch not in {None, "float_switch"} for step in steps):
        said.append(
            "A switch that will be opened is made ready with the power off: one lead taken off, joined so that it can "
            "be parted by hand. Switches are only ever opened; never close, bridge or force one."
        )
    said += dict.fromkeys(one.caution for one in sequences if one.caution and not one.not_applicable)
    said.append("The maker's sheet, the local code and your licence govern. This program is no safety device.")
    return said


def _of_the_system(installed: System, here: Installation) -> Iterator[str]:
    if installed.energy.state != "mockup":
        yield (
            "Before hands go in: switch off every supply, there may be more than one in one cabinet, and prove it dead "
            "with a meter proved before and after. One leg stays live behind a single-pole contactor."
        )
    if {"blower", "compressor"} & here.points and installed.energy.state != "mockup":
        yield (
            "Capacitors are charged until metered: lock out, wait, meter, discharge through a resistor, meter again."
        )
    line = [name for name in ("ignitor", "inducer", "blower", "humidifier", "circulator") if name in here.points]
    if line:
        yield f"Line voltage may be on the wires of: {', '.join(line)}. Nothing of this kit lands there."
    if {"gas_valve", "burner"} & here.points and installed.energy.fuel not in {"none", "shut_off"}:
        yield "Gas or oil: check for leaks and combustion by the maker's sheet before and after."
    if "rollout" in here.points:
        yield "A roll-out switch is reset by hand: find the cause first."
    if "compressor" in here.points and installed.energy.compressor not in {"none", "isolated"}:
        yield "Refrigerant work is for certified persons."
    if {"leak_sensor", "leak_alarm"} & here.points:
        yield "A leak board is tried by its maker's test or the unplugged sensor: never with gas, never with a jumper."
    if "boiler" in here.machines:
        yield "A boiler is not fired unless it is filled, vented, its pressure read and a flow path open."
    if {"Y1", "Y2"} & here.calls and installed.energy.compressor not in {"none", "isolated"}:
        yield "The compressor's heater has to be powered as long as its maker says before a first start."
    yield "Relays stay outside the cabinet."


def energy_words(installed: System) -> str:
    """The energy that the system's file states, to be confirmed."""
    energy = installed.energy
    said = {"fuel": energy.fuel, "compressor": energy.compressor, "heating elements": energy.elements}
    return "; ".join(f"{what}: {_ENERGY[state]}" for what, state in said.items())


def order(installed: System) -> str:
    """What is ordered where a valve or flame is seen with no call, in the system's own words."""
    places = installed.shut_off
    said = ["FLAME OR GAS WITH NO CALL."]
    if places is not None:
        said += [f"SHUT THE FUEL: {places.fuel}."] if places.fuel else []
        said += [f"PULL THE DISCONNECT: {places.disconnect}."] if places.disconnect else []
        said += [f"SWITCH OFF THE BREAKER: {places.breaker}."] if places.breaker else []
    said.append("Smell gas? Touch no switch, get everybody out, call the supplier from outside.")
    return "\n".join(said)


def check_order(installed: System) -> None:
    """A live system must say where it is shut off.

    Raises:
        UsageError: it does not, and what is missing.
    """
    places, energy = installed.shut_off, installed.energy
    if energy.state != "live":
        return
    missing = [] if places is not None and places.breaker else ["breaker"]
    if energy.fuel in {"live", "unknown"} and not (places is not None and places.fuel):
        missing.append("fuel")
    if {energy.compressor, energy.elements} & {"live", "unknown"} and not (places is not None and places.disconnect):
        missing.append("disconnect")
    if missing:
        raise UsageError(
            f"system {installed.system} is live, and its file does not say where it is shut off: "
            f"add shut_off: {{{', '.join(f'{name}: …' for name in missing)}}}"
        )
