import math
import random

import pytest

from stagecall.circuit import EARTH, Coil, Contact, Network, Source, Wire, network

SUPPLY = Source("supply", "R", "C", 28, 2.1)
COIL = Coil("coil", "Y", "C", sealed=30 + 66j, unsealed=5 + 17j)


def called():
    return Network([SUPPLY, Contact("thermostat", "R", "Y"), COIL])


def test_an_open_contact_leaves_its_load_dead():
    net = called()
    solution = net.solve(net.state())

    assert solution.volts("R", "C") == pytest.approx(28, rel=1e-6)
    assert solution.volts("Y", "C") == pytest.approx(0, abs=1e-4)
    assert solution.amps("thermostat") == 0


def test_a_closed_contact_puts_the_source_across_its_load():
    net = called()
    solution = net.solve(net.state(["thermostat"]))
    amps = 28 / (2.1 + 0.01 + 5 + 17j)

    assert solution.amps_phasor("coil") == pytest.approx(amps, rel=1e-6)
    assert solution.amps_phasor("thermostat") == pytest.approx(amps, rel=1e-6)
    assert solution.amps_phasor("supply") == pytest.approx(amps, rel=1e-6)
    assert solution.volts("Y", "C") == pytest.approx(abs(amps * (5 + 17j)), rel=1e-6)
    assert solution.va("supply") == pytest.approx(abs(28 - 2.1 * amps) * abs(amps), rel=1e-6)


def test_a_sealed_coil_takes_less_current():
    net = called()

    inrush = net.solve(net.state(["thermostat"])).amps("coil")
    sealed = net.solve(net.state(["thermostat", "coil"])).amps("coil")

    assert inrush == pytest.approx(28 / abs(7.11 + 17j), rel=1e-6)
    assert sealed == pytest.approx(28 / abs(32.11 + 66j), rel=1e-6)


def test_handles_and_names_say_the_same():
    net = called()
    solution = net.solve(net.state(["thermostat", "coil"]))

    assert solution.volts(net.node("Y"), net.node("C")) == solution.volts("Y", "C")
    assert solution.amps(net.index("coil")) == solution.amps("coil")
    assert solution.va(net.index("supply")) == solution.va("supply")


def test_a_state_turned_there_and_back_is_the_same_state():
    net = called()
    closed = net.state(["thermostat"])

    assert net.state().turned(net.index("thermostat"), True) == closed
    assert closed.turned(net.index("thermostat"), True) == closed
    assert closed.turned(net.index("thermostat"), False) == net.state()


def test_a_contact_named_twice_is_closed_once():
    net = called()

    assert net.state(["thermostat", "thermostat"]) == net.state(["thermostat"])


def test_volts_follow_the_source_down_to_nothing():
    net = called()
    full = net.solve(net.state(["thermostat"])).volts("Y", "C")
    for scale in (0.8, 0.5, 0.01, 0.0):
        state = net.scaled(net.state(["thermostat"]), net.index("supply"), scale)

        assert state == net.state(["thermostat"], {"supply": scale})
        assert net.solve(state).volts("Y", "C") == pytest.approx(scale * full, rel=1e-6, abs=1e-9)


def test_only_the_named_one_of_two_sources_is_scaled():
    net = Network([SUPPLY, COIL, Source("other", "R2", "C2", 28, 2.1)])
    solution = net.solve(net.scaled(net.state(), net.index("other"), 0.5))

    assert solution.volts("R", "C") == pytest.approx(28, rel=1e-6)
    assert solution.volts("R2", "C2") == pytest.approx(14, rel=1e-6)


def test_a_dead_source_is_the_impedance_that_it_has_when_dead():
    feed = Source("feed", "R", "C", 28, 2)
    for dead, amps in [(None, 28 / 4), (140j, 28 / abs(2 + 140j))]:
        net = Network([feed, Source("dead", "R", "C", 28, 2, dead)])

        assert net.solve(net.state(scales={"dead": 0})).amps("feed") == pytest.approx(amps, rel=1e-6)


def test_a_solution_is_remembered_and_does_not_depend_on_what_was_asked_before():
    states = [(on, scale) for on in ([], ["thermostat"], ["coil"], ["thermostat", "coil"]) for scale in (0.5, 1.0)]
    first, shuffled = called(), called()
    in_order = {str(s): first.solve(first.state(s[0], {"supply": s[1]})).volts("Y", "R") for s in states}
    random.Random(1).shuffle(states)
    for on, scale in states:
        state = shuffled.state(on, {"supply": scale})

        assert shuffled.solve(state).volts("Y", "R") == in_order[str((on, scale))]
        assert shuffled.solve(state) is shuffled.solve(state)


def test_memory_is_bounded_and_what_was_forgotten_is_solved_again(monkeypatch):
    monkeypatch.setattr(network, "REMEMBERED", 3)
    net = called()
    for thousandth in (*range(1, 20), 1):
        solution = net.solve(net.state(["thermostat"], {"supply": thousandth / 1000}))

        assert solution.volts("R", "C") == pytest.approx(
            thousandth * 0.028 * abs(5.01 + 17j) / abs(7.11 + 17j), rel=1e-6
        )
    assert len(net._remembered) == 3


def test_wires_of_no_ohms_make_one_node_of_many():
    joined = Network(
        [
            Wire("a", "R", "x", 0),
            SUPPLY,
            Wire("b", "y", "z", 0),
            Wire("c", "x", "y", 0),
            Wire("again", "z", "R", 0),
            Coil("coil", "z", "C", 30 + 66j, 5 + 17j),
        ]
    )
    plain = Network([SUPPLY, Coil("coil", "R", "C", 30 + 66j, 5 + 17j)])

    assert len({joined.node(name) for name in "Rxyz"}) == 1
    assert joined.solve(joined.state()).amps("coil") == pytest.approx(plain.solve(plain.state()).amps("coil"), rel=1e-9)


def test_the_current_through_a_wire_of_no_ohms_is_not_known():
    net = Network([SUPPLY, Wire("join", "C", "frame", 0)])

    with pytest.raises(ValueError, match="'join' joins its two nodes into one"):
        net.solve(net.state()).amps("join")


@pytest.mark.parametrize("ends", [("C", EARTH), (EARTH, "C")])
def test_a_common_joined_to_earth_is_at_no_volts(ends):
    net = Network([SUPPLY, Wire("bond", *ends, 0), COIL])
    solution = net.solve(net.state())

    assert solution.volts("C") == 0
    assert solution.volts("R") == pytest.approx(28, rel=1e-6)


def test_an_ungrounded_supply_lies_evenly_about_earth():
    net = Network([SUPPLY])
    solution = net.solve(net.state())

    assert solution.volts("R") == pytest.approx(14, rel=1e-4)
    assert solution.volts("C") == pytest.approx(14, rel=1e-4)


def test_an_element_with_both_ends_on_one_node_changes_nothing_and_carries_no_current():
    net = Network([SUPPLY, COIL, Contact("thermostat", "R", "Y"), Wire("loop", "Y", "Y", 1), Coil("k", "C", "C", 9, 9)])
    solution = net.solve(net.state(["thermostat"]))
    plain = called()

    assert solution.volts("Y", "C") == pytest.approx(plain.solve(plain.state(["thermostat"])).volts("Y", "C"), rel=1e-9)
    assert solution.amps("loop") == 0
    assert solution.amps("k") == 0


def test_a_source_with_both_ends_on_one_node_is_shorted_by_itself():
    net = Network([Source("supply", "R", "C", 28, 2), Wire("join", "R", "C", 0)])
    solution = net.solve(net.state())

    assert solution.amps("supply") == pytest.approx(14)
    assert solution.volts("R", "C") == 0


def test_floating_islands_are_solved_and_carry_nothing():
    net = Network(
        [
            SUPPLY,
            COIL,
            Contact("thermostat", "R", "Y"),
            Contact("dry", "end1", "end2"),
            Wire("lead", "end2", "nowhere", 0.1),
            Source("other", "R2", "C2", 28, 2.1),
            Coil("unjoined", "p", "q", 40 + 80j, 10 + 20j),
        ]
    )
    solution = net.solve(net.state(["thermostat", "dry"]))

    assert solution.volts("R2", "C2") == pytest.approx(28, rel=1e-6)
    assert solution.amps("other") == pytest.approx(0, abs=1e-7)
    assert solution.amps("dry") == pytest.approx(0, abs=1e-7)
    assert solution.amps("unjoined") == pytest.approx(0, abs=1e-7)
    assert solution.volts("Y", "C") == pytest.approx(28 * abs(5 + 17j) / abs(7.11 + 17j), rel=1e-6)


def test_a_network_of_hundreds_of_switches_keeps_each_one_s_state():
    contacts = [Contact(f"k{number}", f"n{number}", f"n{number + 1}", 0.05) for number in range(200)]
    net = Network([Source("supply", "n0", "C", 28, 2), *contacts, Coil("coil", "n200", "C", sealed=50, unsealed=20)])
    closed = net.state([contact.name for contact in contacts])

    assert net.solve(closed).amps("coil") == pytest.approx(28 / (2 + 200 * 0.05 + 20), rel=1e-4)
    assert net.solve(closed.turned(net.index("coil"), True)).amps("coil") == pytest.approx(28 / 62, rel=1e-4)
    assert net.solve(closed.turned(net.index("k150"), False)).amps("coil") == pytest.approx(0, abs=1e-5)


def test_the_stiffest_joints_allowed_in_a_floating_island_still_solve():
    least = network.LEAST_OHMS
    mesh = [Wire(f"{a}-{b}", f"n{a}", f"n{b}", least) for a in range(12) for b in range(a)]
    net = Network([Source("supply", "n0", "far", 28, 2), *mesh, Wire("load", "n11", "far", 12)])
    solution = net.solve(net.state())

    assert solution.amps("load") == pytest.approx(2, rel=1e-4)
    assert solution.volts("n0", "far") == pytest.approx(24, rel=1e-4)


def test_a_network_of_nothing_has_nothing_to_say():
    net = Network([])

    with pytest.raises(KeyError):
        net.solve(net.state()).volts("R", "C")


def test_two_elements_of_one_name_are_refused():
    with pytest.raises(ValueError, match="two elements are called 'coil'"):
        Network([SUPPLY, COIL, COIL])


@pytest.mark.parametrize("ohms", [-1, -1 + 5j, network.LEAST_OHMS / 2, math.inf, math.nan, complex(0, math.inf)])
@pytest.mark.parametrize(
    "build",
    [
        lambda ohms: Wire("odd", "a", "b", ohms),
        lambda ohms: Contact("odd", "a", "b", ohms),
        lambda ohms: Coil("odd", "a", "b", ohms, 10),
        lambda ohms: Coil("odd", "a", "b", 10, ohms),
        lambda ohms: Source("odd", "a", "b", 28, ohms),
        lambda ohms: Source("odd", "a", "b", 28, 2, ohms),
    ],
)
def test_an_impossible_impedance_is_refused_by_the_element_s_name(build, ohms):
    with pytest.raises(ValueError, match=r"'odd' cannot have .* ohm"):
        Network([build(ohms)])


@pytest.mark.parametrize(
    "element", [Contact("odd", "a", "b", 0), Coil("odd", "a", "b", 0, 10), Source("odd", "a", "b", 28, 0)]
)
def test_only_a_wire_may_have_no_ohms(element):
    with pytest.raises(ValueError, match="'odd' cannot have 0"):
        Network([element])


def test_networks_of_one_shape_share_their_elimination_and_not_their_figures():
    light, heavy = (Network([SUPPLY, Wire("load", "R", "C", ohms)]) for ohms in (100, 1))

    assert light.solve(light.state()).amps("load") == pytest.approx(28 / 102.1, rel=1e-6)
    assert heavy.solve(heavy.state()).amps("load") == pytest.approx(28 / 3.1, rel=1e-6)
