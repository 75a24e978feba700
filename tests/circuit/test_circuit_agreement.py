"""The nodal solution against slow obvious ways: series and parallel reduction, one source at a time, Kirchhoff."""

import cmath
import math
from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stagecall.circuit import EARTH, Coil, Contact, Network, Source, Wire
from stagecall.circuit.network import LEAKAGE

LEAKED = 1e-5
"""Amps that leakage and rounding may add or take away in these nets, at 30 V and a few dozen nodes."""


def agree(one, other):
    return cmath.isclose(one, other, rel_tol=1e-6, abs_tol=LEAKED)


# ---- nets by the rules of series and parallel, which know nothing of nodes


@dataclass
class Leaf:
    """One element as its impedance now (None: open), and how to make it of a network."""

    kind: str
    ohms: complex
    name: str = ""

    def impedance(self):
        return None if self.kind == "open" else self.ohms

    def element(self, a, b):
        match self.kind:
            case "wire":
                return Wire(self.name, a, b, self.ohms)
            case "open" | "closed":
                return Contact(self.name, a, b, abs(self.ohms))
            case "sealed":
                return Coil(self.name, a, b, self.ohms, self.ohms / 3)
            case _:
                return Coil(self.name, a, b, self.ohms * 3, self.ohms)


@dataclass
class Group:
    together: str
    parts: list = field(default_factory=list)

    def impedance(self):
        found = [part.impedance() for part in self.parts]
        if self.together == "series":
            return None if None in found else sum(found)
        siemens = sum(1 / ohms for ohms in found if ohms is not None)
        return 1 / siemens if siemens else None


def leaves(net):
    return [net] if isinstance(net, Leaf) else [leaf for part in net.parts for leaf in leaves(part)]


def currents(net, amps):
    """Amps through every leaf when *amps* enter the net."""
    if isinstance(net, Leaf):
        return {net.name: amps}
    if net.together == "series":
        shares = [amps] * len(net.parts)
    else:
        whole = net.impedance()
        each = [part.impedance() for part in net.parts]
        shares = [0 if whole is None or ohms is None else amps * whole / ohms for ohms in each]
    return {
        name: here
        for part, share in zip(net.parts, shares, strict=True)
        for name, here in currents(part, share).items()
    }


def elements(net, a, b):
    """The same net between nodes *a* and *b*."""
    if isinstance(net, Leaf):
        return [net.element(a, b)]
    if net.together == "parallel":
        return [element for part in net.parts for element in elements(part, a, b)]
    nodes = [a, *(f"{leaves(part)[0].name}-in" for part in net.parts[1:]), b]
    return [
        element
        for part, here, there in zip(net.parts, nodes, nodes[1:], strict=False)
        for element in elements(part, here, there)
    ]


def named(prefix, net):
    for number, leaf in enumerate(leaves(net)):
        leaf.name = f"{prefix}{number}"
    return net


def turned_on(*nets):
    return [leaf.name for net in nets for leaf in leaves(net) if leaf.kind in {"closed", "sealed"}]


impedances = st.builds(complex, st.floats(0.05, 500), st.floats(-100, 300))
contacts = st.builds(Leaf, st.sampled_from(["open", "closed", "closed"]), st.floats(0.005, 10))
loads = st.builds(Leaf, st.sampled_from(["wire", "sealed", "unsealed"]), impedances)
nets = st.recursive(
    loads | contacts,
    lambda parts: st.builds(Group, st.sampled_from(["series", "parallel"]), st.lists(parts, min_size=2, max_size=4)),
    max_leaves=12,
)
sources = st.builds(
    lambda volts, phase, ohms: (cmath.rect(volts, phase), ohms),
    st.floats(5, 60),
    st.floats(-math.pi, math.pi),
    st.builds(complex, st.floats(0.5, 5), st.floats(0, 2)),
)


@given(net=nets, source=sources, grounded=st.sampled_from([None, "top", "bottom"]))
def test_a_net_of_series_and_parallel_carries_what_reduction_says(net, source, grounded):
    named("n", net)
    volts, ohms = source
    whole = net.impedance()
    expected = currents(net, 0 if whole is None else volts / (ohms + whole))
    bond = [] if grounded is None else [Wire("bond", grounded, EARTH, 0)]
    network = Network([Source("supply", "top", "bottom", volts, ohms), *elements(net, "top", "bottom"), *bond])

    solution = network.solve(network.state(turned_on(net)))

    assert {name for name, amps in expected.items() if not agree(solution.amps_phasor(name), amps)} == set()
    if whole is None:
        assert solution.volts("top", "bottom") == pytest.approx(abs(volts), rel=1e-4)


@given(first=nets, second=nets, load=nets, sources=st.tuples(sources, sources))
def test_two_sources_together_give_the_sum_of_each_alone(first, second, load, sources):
    """Each source feeds a common load through a net of its own; alone, the other is only its impedance."""
    nets = [named("f", first), named("s", second), named("l", load)]
    expected = dict.fromkeys((leaf.name for net in nets for leaf in leaves(net)), 0j)
    for mine, other in ((0, 1), (1, 0)):
        volts, ohms = sources[mine]
        idle = Group("series", [nets[other], Leaf("wire", sources[other][1], "idle source")])
        loop = Group("series", [nets[mine], Group("parallel", [load, idle])])
        whole = loop.impedance()
        for name, amps in currents(loop, 0 if whole is None else volts / (ohms + whole)).items():
            if name in expected:
                # what feeds the load from elsewhere runs against this branch's own direction
                expected[name] += -amps if name.startswith("fs"[other]) else amps
    network = Network(
        [
            Source("one", "top1", "bottom", *sources[0]),
            Source("two", "top2", "bottom", *sources[1]),
            *elements(first, "top1", "joint"),
            *elements(second, "top2", "joint"),
            *elements(load, "joint", "bottom"),
        ]
    )

    solution = network.solve(network.state(turned_on(*nets)))

    assert {name for name, amps in expected.items() if not agree(solution.amps_phasor(name), amps)} == set()


# ---- any net at all: the laws that leave only one solution


@st.composite
def any_net(draw):
    """Elements between any two of a few nodes, some of them switched on, sources at any scale."""
    nodes = st.sampled_from([EARTH, *(f"n{number}" for number in range(draw(st.integers(2, 9))))])
    found = []
    for number in range(draw(st.integers(1, 16))):
        a, b, ohms, name = draw(nodes), draw(nodes), draw(impedances), f"e{number}"
        found.append(
            draw(
                st.sampled_from(
                    [
                        Wire(name, a, b, ohms),
                        Contact(name, a, b, ohms.real),
                        Coil(name, a, b, ohms, ohms / 4),
                        Source(name, a, b, cmath.rect(28, ohms.imag), ohms.real),
                        Source(name, a, b, 28, ohms.real, ohms * 20),
                    ]
                )
            )
        )
    names = [element.name for element in found]
    on = draw(st.sets(st.sampled_from(names)))
    scales = draw(st.dictionaries(st.sampled_from(names), st.sampled_from([0.0, 0.6, 1.0, 1.1])))
    return found, on, scales


def broken_branch_law(element, solution, on, scale):
    """By how many volts an element's current contradicts its voltage; of an open contact, its amps."""
    volts, amps = solution.volts_phasor(element.a, element.b), solution.amps_phasor(element.name)
    match element:
        case Wire(ohms=ohms):
            return abs(volts - amps * ohms)
        case Contact(ohms=ohms):
            return abs(volts - amps * ohms) if on else abs(amps)
        case Coil(sealed=sealed, unsealed=unsealed):
            return abs(volts - amps * (sealed if on else unsealed))
        case Source(volts=unloaded, ohms=ohms, dead=dead):
            inside = dead if scale == 0 and dead is not None else ohms
            return abs(volts - (unloaded * scale - amps * inside))


@given(any_net())
def test_in_any_net_each_element_obeys_its_law_and_no_node_gathers_current(net):
    found, on, scales = net
    network = Network(found)
    solution = network.solve(network.state(on, scales))
    gathered = {}
    for element in found:
        amps = solution.amps_phasor(element.name)
        out = -amps if isinstance(element, Source) else amps
        gathered[element.a] = gathered.get(element.a, 0) - out
        gathered[element.b] = gathered.get(element.b, 0) + out

    laws = {e.name: broken_branch_law(e, solution, e.name in on, scales.get(e.name, 1.0)) for e in found}

    assert {name: volts for name, volts in laws.items() if volts > 1e-8} == {}
    gathered.pop(EARTH, None)
    left = {node: abs(amps - LEAKAGE * solution.volts_phasor(node)) for node, amps in gathered.items()}
    assert {node: amps for node, amps in left.items() if amps > 1e-10} == {}


@given(any_net(), st.randoms())
def test_the_order_of_the_elements_and_the_names_of_the_nodes_change_nothing(net, random):
    found, on, scales = net
    nodes = {node for element in found for node in (element.a, element.b)} - {EARTH}
    shuffled = random.sample(sorted(nodes), len(nodes))
    new = {EARTH: EARTH, **dict(zip(sorted(nodes), shuffled, strict=True))}
    kept, moved = Network(found), Network(random.sample([renamed(element, new) for element in found], len(found)))

    before, after = (each.solve(each.state(on, scales)) for each in (kept, moved))

    assert {e.name for e in found if not agree(before.amps_phasor(e.name), after.amps_phasor(e.name))} == set()


def renamed(element, new):
    fields = {name: getattr(element, name) for name in element.__struct_fields__}
    return type(element)(**{**fields, "a": new[element.a], "b": new[element.b]})


@given(any_net(), st.data())
def test_a_wire_of_no_ohms_is_the_same_as_one_name_for_both_its_ends(net, data):
    found, on, scales = net
    nodes = sorted({node for element in found for node in (element.a, element.b)} - {EARTH}) or ["n0"]
    twins = data.draw(st.lists(st.booleans(), min_size=len(found), max_size=len(found)))
    split = [
        renamed(element, {EARTH: EARTH, **{node: f"{node}'" if twin else node for node in nodes}})
        for element, twin in zip(found, twins, strict=True)
    ]
    joined = Network([*split, *(Wire(f"join {node}", node, f"{node}'", 0) for node in nodes)])
    plain = Network(found)

    one, other = plain.solve(plain.state(on, scales)), joined.solve(joined.state(on, scales))

    assert {e.name for e in found if not agree(one.amps_phasor(e.name), other.amps_phasor(e.name))} == set()
