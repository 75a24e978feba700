import math

import pytest

from stagecall.circuit import Network, Wire, conductor_ohms, load_ohms, opens_after, transformer

FOOT = 0.3048


@pytest.mark.parametrize(("gauge", "loop_ohms"), [(18, 1.28), (22, 3.2)])
def test_a_hundred_foot_run_has_the_loop_ohms_of_the_table(gauge, loop_ohms):
    assert 2 * conductor_ohms(gauge, 100 * FOOT) == pytest.approx(loop_ohms, abs=0.03)


def test_a_thinner_conductor_has_more_ohms():
    by_gauge = [conductor_ohms(gauge, 10) for gauge in (14, 16, 18, 20, 22, 24)]

    assert by_gauge == sorted(by_gauge)


def test_an_unknown_gauge_names_the_known_ones():
    with pytest.raises(ValueError, match="13 AWG is not a gauge of control wire; known: 14, 16, 18, 20, 22, 24"):
        conductor_ohms(13, 1)


def test_a_conductor_has_no_negative_length():
    with pytest.raises(ValueError, match="cannot be -1 m long"):
        conductor_ohms(18, -1)


@pytest.mark.parametrize(("va", "power_factor"), [(8, 0.4), (33, 0.25), (5, 1.0), (2, 0.0)])
def test_a_load_takes_the_va_and_the_power_factor_of_its_sheet(va, power_factor):
    amps = 24 / load_ohms(va, power_factor)
    power = 24 * amps.conjugate()

    assert abs(power) == pytest.approx(va)
    assert power.real == pytest.approx(va * power_factor)
    assert power.imag >= 0


@pytest.mark.parametrize(("va", "power_factor"), [(0, 0.5), (-1, 0.5), (8, 1.1), (8, -0.1)])
def test_what_is_no_load_is_refused(va, power_factor):
    with pytest.raises(ValueError, match="is no load"):
        load_ohms(va, power_factor)


@pytest.mark.parametrize(
    ("va", "open_volts", "short_amps"),
    [
        (20, (28.4, 28.6), (5.5, 6.5)),
        (40, (27.9, 28.1), (10, 13.5)),
        (75, (28.2, 28.4), (20, 24)),
        (100, (27.9, 28.1), (32, 34)),
    ],
)
def test_a_transformer_has_its_no_load_volts_and_its_bolted_short_amps(va, open_volts, short_amps):
    def solved(elements):
        network = Network(elements)
        return network.solve(network.state())

    supply = transformer("supply", "R", "C", va)
    unloaded = solved([supply]).volts("R", "C")
    short = solved([supply, Wire("short", "R", "C", 0.001)]).amps("supply")

    assert open_volts[0] <= unloaded <= open_volts[1]
    assert short_amps[0] <= short <= short_amps[1]


@pytest.mark.parametrize("va", [30, 50, 60])
def test_a_transformer_between_the_tables_lies_between_its_neighbours(va):
    smaller, this, larger = (transformer("t", "R", "C", size) for size in (20, va, 100))

    assert larger.ohms.real < this.ohms.real < smaller.ohms.real
    assert 28.0 <= abs(this.volts) <= 28.5


@pytest.mark.parametrize("va", [19.9, 101, 0])
def test_a_transformer_beyond_the_table_is_refused(va):
    with pytest.raises(ValueError, match="known are 20 to 100 VA"):
        transformer("t", "R", "C", va)


@pytest.mark.parametrize(("va", "regulation"), [(40, 0.15), (250, 0.08)])
def test_a_transformer_of_known_regulation_gives_24_volts_at_full_load(va, regulation):
    supply = transformer("t", "R", "C", va, regulation=regulation)
    network = Network([supply, Wire("full load", "R", "C", 24**2 / va)])
    solution = network.solve(network.state())

    assert solution.volts("R", "C") == pytest.approx(24, rel=1e-6)
    assert solution.va("t") == pytest.approx(va, rel=1e-6)
    assert abs(supply.volts) == pytest.approx(24 * (1 + regulation))


@pytest.mark.parametrize(("va", "regulation"), [(0, 0.1), (40, 0), (40, -0.1)])
def test_a_transformer_without_va_or_regulation_is_refused(va, regulation):
    with pytest.raises(ValueError, match="cannot be"):
        transformer("t", "R", "C", va, regulation=regulation)


@pytest.mark.parametrize(
    ("multiple", "low", "high"),
    [(1.35, 0.75, 600), (2.0, 0.15, 5), (3.5, 0.04, 0.5), (6.0, 0.02, 0.1)],
)
@pytest.mark.parametrize("rating", [3, 5])
def test_a_fuse_opens_in_the_times_of_its_table(rating, multiple, low, high):
    amps = rating * multiple

    assert opens_after(amps, rating, "low") == pytest.approx(low * 1000, abs=1)
    assert opens_after(amps, rating, "high") == pytest.approx(high * 1000, abs=1)
    assert opens_after(amps, rating) == pytest.approx(1000 * math.sqrt(low * high), abs=1)


@pytest.mark.parametrize("grade", ["low", "typical", "high"])
@pytest.mark.parametrize("multiple", [0, 0.5, 1.0, 1.0999])
def test_a_fuse_below_110_percent_never_opens(multiple, grade):
    assert opens_after(3 * multiple, 3, grade) is None


def test_a_fuse_at_110_percent_holds_for_a_hundred_hours():
    assert opens_after(1.1, 1, "low") == pytest.approx(360_000_000, abs=1)
    assert opens_after(1.1, 1) == pytest.approx(360_000_000, abs=1)


def test_below_135_percent_the_slowest_fuse_need_not_open():
    assert opens_after(1.349, 1, "high") is None
    assert opens_after(1.35, 1, "high") == 600_000


def test_half_way_between_two_points_on_log_log_paper_the_time_is_the_geometric_mean():
    assert opens_after(math.sqrt(2.0 * 3.5), 1, "high") == pytest.approx(1000 * math.sqrt(5 * 0.5), abs=1)


def test_beyond_the_table_the_melting_energy_is_constant():
    assert opens_after(12, 1, "high") == 25
    assert opens_after(1e6, 1, "low") == 1


@pytest.mark.parametrize("grade", ["low", "typical", "high"])
def test_more_current_never_opens_a_fuse_later(grade):
    times = [opens_after(multiple / 100, 1, grade) or math.inf for multiple in range(100, 1500, 3)]

    assert times == sorted(times, reverse=True)


def test_a_fuse_without_rating_is_refused():
    with pytest.raises(ValueError, match="rated 0 A"):
        opens_after(1, 0)
