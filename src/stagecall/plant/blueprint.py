"""What does not change from run to run: a system's parts with their parameters, its joins, its compiled networks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from stagecall.circuit import Element, Wire
from stagecall.errors import UsageError
from stagecall.model.equipment import Equipment, Value
from stagecall.model.fault import AppliedFault
from stagecall.model.system import System
from stagecall.plant import control as control_end
from stagecall.plant.air import House
from stagecall.plant.control import OUTPUT_PARAMETERS, ControlParameters
from stagecall.plant.electric import Probe, Wiring
from stagecall.plant.kinds import KINDS
from stagecall.plant.netlist import Cabling, groups, joints, screws
from stagecall.plant.parameters import (
    Declared,
    Parameters,
    Setting,
    Span,
    declared,
    draw,
    to_si,
    typical_and_span,
    unknown,
)
from stagecall.plant.part import Part
from stagecall.plant.points import places
from stagecall.plant.thermostat import ThermostatParameters
from stagecall.points import nearest, with_article

_WIRINGS_KEPT = 64
_SITE: dict[str, type[Parameters]] = {"control": ControlParameters, "house": House, "thermostat": ThermostatParameters}


class Fitting(msgspec.Struct, frozen=True, kw_only=True):
    """One part of one installed machine, before any run."""

    name: str
    word: str
    """Its kind's name."""
    kind: type[Part]
    takes: dict[str, Declared]
    typical: dict[str, Setting]
    spans: dict[str, Span]

    def values(self, *, seed: int, drawn: bool) -> dict[str, Setting]:
        """Typical values, or those of a healthy machine drawn by *seed*."""
        if not drawn:
            return dict(self.typical)
        return self.typical | {
            name: draw(span, self.takes[name], f"{seed}/{self.name}/{name}") for name, span in self.spans.items()
        }


class Blueprint:
    """Made once from a system and its profiles; any number of plants are built from it.

    Raises:
        UsageError: a profile, part, parameter, terminal or conductor's end that does not fit; one complaint, with the
            nearest known name.
    """

    def __init__(self, system: System, profiles: Mapping[str, Equipment]) -> None:
        self.system = system
        self.profiles = {
            name: _profile(name, installed.profile, profiles) for name, installed in system.equipment.items()
        }
        self.fittings: dict[str, Fitting] = {}
        joins: list[tuple[str, str]] = []
        self._fixed: list[Element] = []
        for name, profile in self.profiles.items():
            self._fit(name, profile)
            for a, b, medium in joints(name, profile):
                if medium == "control":
                    self._fixed.append(Wire(f"{a} = {b}", a, b, 0))
                else:
                    joins.append((a, b))
            self._fixed.extend(screws(name, profile))
        self.joined = groups(joins)
        self._nodes = {f"control.{terminal}" for terminal in system.control.terminals} | {
            f"{name}.{terminal}" for name, profile in self.profiles.items() for terminal in profile.terminals
        }
        self.probes: dict[str, int] = {}
        self._probes: list[Probe] = []
        for fitting in self.fittings.values():
            for name, probe in fitting.kind.probes(fitting.name).items():
                self._probe(f"{fitting.name}:{name}", probe)
        self.places = places(self.profiles, self.fittings.keys(), system.control.terminals)
        for place in (place for means in self.places.values() for place in means.values()):
            if place.node is not None:
                self._probe(place.key, Probe(place.node, f"{place.equipment}.C"))
        self._wirings: dict[tuple[Element, ...], Wiring] = {}
        self.site = {name: kind() for name, kind in _SITE.items()}
        for key, value in system.control.settings.items():
            self.site["control"] = site_with(self.site["control"], "control", key, value)
        self.typical = {name: self._given(fitting, fitting.typical) for name, fitting in self.fittings.items()}
        self._typical_elements = {
            name: tuple(fitting.kind.elements(name, self.typical[name])) for name, fitting in self.fittings.items()
        }
        self._typical_wiring = self._compiled(self.typical, self.site["control"], ())

    def _fit(self, equipment: str, profile: Equipment) -> None:
        for part_name, part in profile.parts.items():
            name = f"{equipment}.{part_name}"
            if part.kind not in KINDS:
                raise unknown(part.kind, KINDS, f"{name}: the model")
            kind = KINDS[part.kind]
            takes = declared(kind.takes)
            typical: dict[str, Setting] = {}
            spans: dict[str, Span] = {}
            for parameter_name, parameter in part.parameters.items():
                if parameter_name not in takes:
                    raise unknown(parameter_name, takes, f"{name} ({part.kind})")
                figure = self.system.maker_data.get(parameter.maker_data or "")
                where = f"{name}.{parameter_name}"
                typical[parameter_name], spans[parameter_name] = typical_and_span(
                    parameter, takes[parameter_name], figure, where
                )
            for parameter_name, declaration in takes.items():
                if parameter_name not in typical and declaration.needed:
                    near = nearest(parameter_name, list(part.parameters))
                    hint = f" (it has '{near}')" if near else ""
                    raise UsageError(f"{name} ({part.kind}) lacks the parameter {parameter_name}{hint}")
            self.fittings[name] = Fitting(
                name=name, word=part.kind, kind=kind, takes=takes, typical=typical, spans=spans
            )
        for key, value in self.system.equipment[equipment].settings.items():
            name, _, parameter_name = f"{equipment}.{key}".rpartition(".")
            fitting = self.fitting(name)
            fitting.typical[parameter_name] = fitting_value(fitting, parameter_name, value)
            fitting.spans.pop(parameter_name, None)

    def fitting(self, name: str) -> Fitting:
        """The part of that full name.

        Raises:
            UsageError: the system has none.
        """
        if name not in self.fittings:
            raise unknown(name, self.fittings, f"system {self.system.system}")
        return self.fittings[name]

    def _given(self, fitting: Fitting, values: Mapping[str, Setting]) -> Parameters:
        return fitting.kind.takes(**values)

    def _probe(self, key: str, probe: Probe) -> None:
        self.probes[key] = len(self._probes)
        self._probes.append(probe)

    def parameters(
        self, *, seed: int, drawn: bool, settings: Mapping[str, Value], faults: Sequence[AppliedFault]
    ) -> tuple[dict[str, Parameters], dict[str, Parameters]]:
        """Every part's parameters for one run, and the site's (control, house).

        Raises:
            UsageError: a setting or fault for something that is not there, or of the wrong kind.
        """
        changed: dict[str, dict[str, Setting]] = {}
        site = dict(self.site)
        if drawn:
            changed = {name: fitting.values(seed=seed, drawn=True) for name, fitting in self.fittings.items()}
        for key, value in settings.items():
            name, _, parameter = key.rpartition(".")
            if name in site:
                site[name] = site_with(site[name], name, parameter, value)
            else:
                fitting = self.fitting(name)
                changed.setdefault(name, dict(fitting.typical))[parameter] = fitting_value(fitting, parameter, value)
        for applied in faults:
            if applied.target in site:
                for parameter, value in changes(applied).items():
                    site[applied.target] = self._site_befallen(site, applied.target, parameter, value)
            elif not applied.fault.in_wiring:
                fitting = self.fitting(applied.target)
                changed.setdefault(fitting.name, dict(fitting.typical)).update(fault_values(fitting, applied))
        parameters = dict(self.typical)
        for name, values in changed.items():
            parameters[name] = self._given(self.fittings[name], values)
        return parameters, site

    def _site_befallen(self, site: Mapping[str, Parameters], name: str, parameter: str, value: Value) -> Parameters:
        terminals = self.system.control.terminals
        if parameter in OUTPUT_PARAMETERS and value not in terminals:
            raise unknown(str(value), dict.fromkeys(terminals), f"the control of system {self.system.system}")
        return site_with(site[name], name, parameter, value)

    def wiring(
        self, parameters: Mapping[str, Parameters], control: Parameters, wire_faults: Sequence[AppliedFault]
    ) -> Wiring:
        """The compiled network for these parameters; the same one again where nothing electrical differs."""
        if not wire_faults and control is self.site["control"] and self._electrically_typical(parameters):
            return self._typical_wiring
        return self._compiled(parameters, control, wire_faults)

    def _electrically_typical(self, parameters: Mapping[str, Parameters]) -> bool:
        return all(
            parameters[name] is typical or self._elements(name, parameters[name]) == self._typical_elements[name]
            for name, typical in self.typical.items()
        )

    def _elements(self, name: str, parameters: Parameters) -> tuple[Element, ...]:
        if parameters is self.typical[name]:
            return self._typical_elements[name]
        return tuple(self.fittings[name].kind.elements(name, parameters))

    def has_screws(self, *screws: str) -> bool:
        """Whether the system has all of these."""
        return self._nodes.issuperset(screws)

    def cabling(self, wire_faults: Sequence[AppliedFault]) -> Cabling:
        """The conductors with what has befallen them.

        Raises:
            UsageError: a conductor that is not there, or that has no neighbour where the fault wants one.
        """
        cabling = Cabling(self.system, self._nodes)
        for applied in wire_faults:
            cabling.befall(applied)
        return cabling

    def _compiled(
        self, parameters: Mapping[str, Parameters], control: Parameters, wire_faults: Sequence[AppliedFault]
    ) -> Wiring:
        assert isinstance(control, ControlParameters)  # noqa: S101 - the only kind under that name
        elements = (
            *control_end.elements(self.system.control, control),
            *self._fixed,
            *(element for name in self.fittings for element in self._elements(name, parameters[name])),
            *self.cabling(wire_faults).elements(),
        )
        found = self._wirings.get(elements)
        if found is None:
            if len(self._wirings) >= _WIRINGS_KEPT:
                del self._wirings[next(iter(self._wirings))]
            found = self._wirings[elements] = Wiring(elements, self._probes)
        return found


def site_with(given: Parameters, name: str, parameter: str, value: Value) -> Parameters:
    """The site's parameters (*name* is control or house) with one of them set.

    Raises:
        UsageError: no such parameter, or a value of the wrong kind.
    """
    takes = declared(type(given))
    if parameter not in takes:
        raise unknown(parameter, takes, name)
    return msgspec.structs.replace(given, **{parameter: to_si(value, takes[parameter], f"{name}.{parameter}")})


def fitting_value(fitting: Fitting, parameter: str, value: Value) -> Setting:
    """A value for one parameter of a part, in SI.

    Raises:
        UsageError: no such parameter, or a value of the wrong kind.
    """
    if parameter not in fitting.takes:
        raise unknown(parameter, fitting.takes, f"{fitting.name} ({fitting.word})")
    return to_si(value, fitting.takes[parameter], f"{fitting.name}.{parameter}")


def fault_values(fitting: Fitting, applied: AppliedFault) -> dict[str, Setting]:
    """What a part fault sets, in SI; it befalls its kind and the kinds made from that.

    Raises:
        UsageError: a part of another kind, a parameter that it has not, or a severity where the fault has none.
    """
    fault = applied.fault
    if fault.part_kind not in KINDS:
        raise unknown(fault.part_kind or "", KINDS, "the model")
    if not issubclass(fitting.kind, KINDS[fault.part_kind]):
        its, that = with_article(fault.part_kind or ""), with_article(fitting.word)
        raise UsageError(f"fault {fault.fault} befalls {its}, and {fitting.name} is {that}")
    return {name: fitting_value(fitting, name, value) for name, value in changes(applied).items()}


def changes(applied: AppliedFault) -> dict[str, Value]:
    """The parameters that a fault sets, its severity among them.

    Raises:
        UsageError: a severity where the fault has none.
    """
    fault = applied.fault
    if fault.severity is not None:
        return {**fault.change, fault.severity.of: applied.severity or fault.severity.typical}
    if applied.severity is not None:
        raise UsageError(f"fault {fault.fault} has no severity")
    return dict(fault.change)


def _profile(name: str, wanted: str, profiles: Mapping[str, Equipment]) -> Equipment:
    if wanted not in profiles:
        raise unknown(wanted, profiles, f"{name}: the library of equipment")
    return profiles[wanted]
