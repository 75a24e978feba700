"""The rig that is a person: what they are told, what they may type, and what it comes to."""

from __future__ import annotations

import pytest

from rigs.scripted_person import PromptRig
from stagecall.model.event import Call, Edge, Event, Gap, Power, Reading, Snapshot, Switch
from stagecall.model.sequence import Condition
from stagecall.rigs.contract import Look, Move

BLOWER_ON = Condition("blower", "on")
CONTACTOR_ON = Condition("contactor", "on")


class Asked(PromptRig):
    """Does nothing by itself."""

    def react(self, text: str) -> None:
        pass


def after(rig: Asked, ms: int) -> list[Event]:
    """What comes while so many ms pass."""
    events: list[Event] = []
    end = rig.now + ms
    while rig.now < end:
        events += rig.poll(end).events
    return events


def typed(rig: Asked, *lines: str) -> list[Event]:
    """A line each second, and what came of them once all is settled."""
    events = []
    for line in lines:
        events += after(rig, 1000)
        rig.hear(line)
    return events + after(rig, 6000)


def test_the_call_begins_when_the_person_says_that_it_is_made() -> None:
    rig = Asked()
    rig._move(Move(calls=frozenset({"Y1", "G"})))

    assert after(rig, 5000) == []
    assert rig.said == ["Make the call: join R to G and Y1. Press Enter at that moment."]
    assert typed(rig, "") == [
        Call(t=6000, e=5000, terminal="G", state="on"),
        Call(t=6000, e=5000, terminal="Y1", state="on"),
    ]


def test_a_change_of_calls_says_what_ends_what_begins_and_what_stays() -> None:
    rig = Asked()
    rig._move(Move(calls=frozenset({"Y1", "G"})))
    typed(rig, "")
    rig._move(Move(calls=frozenset({"G", "W1"})))
    after(rig, 100)

    assert rig.said[-1] == (
        "End the call: take Y1 off R. Make the call: join R to W1. G stays called. Press Enter at that moment."
    )


def test_enter_is_the_first_that_is_expected_and_a_number_any_other() -> None:
    rig = Asked()
    rig.look_for(Look((BLOWER_ON, CONTACTOR_ON)))

    events = typed(rig, "2", "")

    assert [(e.point, e.state) for e in events if isinstance(e, Edge)] == [("contactor", "on"), ("blower", "on")]
    assert rig.said[0] == "Enter  blower on\n2  contactor on"


def test_what_the_person_needs_to_hear_and_to_press_is_taken_off_the_stamp() -> None:
    rig = Asked()
    rig.look_for(Look((BLOWER_ON,)))

    after(rig, 10_000)
    pressed = rig.now
    rig.hear("")

    assert after(rig, 6000) == [Edge(t=pressed - 1000, e=pressed - 2000, point="blower", state="on")]


def test_what_should_not_come_is_listed_apart_and_has_a_number() -> None:
    rig = Asked()
    rig.look_for(Look((BLOWER_ON,), (CONTACTOR_ON,)))

    (edge,) = typed(rig, "2")

    assert rig.said[0] == "Enter  blower on\nShould not come; else type its number: 2 contactor on."
    assert isinstance(edge, Edge)
    assert edge.point == "contactor"


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("105", "105 needs its unit: supply air is a temperature (such as 70 °F)."),
        ("105 V", "'105 V' is not a temperature (such as 70 °F)."),
        ("105 X", "'X' in '105 X' is not a unit"),
        ("suply air 105 F", "'suply air' is nothing that is read here; did you mean 'supply air'?"),
        ("blowr off", "'blowr' is nothing that is looked at here; did you mean 'blower'?"),
        ("blower open", "blower is on or off, not open."),
        ("9", "9 needs its unit: supply air is a temperature (such as 70 °F)."),
        ("what now", "'what now' is not understood; type what you see, such as blower on."),
    ],
)
def test_what_cannot_be_taken_is_answered_with_one_sentence_and_nothing_is_written(line: str, answer: str) -> None:
    rig = Asked()
    rig.look_for(Look((BLOWER_ON,)))
    rig.sample(frozenset({"supply_air"}))

    assert typed(rig, line) == []
    assert rig.said[-1].startswith(answer)


@pytest.mark.parametrize("line", ["105 F", "105 °F", "supply air 105 F", "supply_air 105F", "40.556 °C", "40,556 C"])
def test_a_reading_is_taken_with_its_unit_and_kept_in_celsius(line: str) -> None:
    rig = Asked()
    rig.sample(frozenset({"supply_air"}))

    (reading,) = typed(rig, line)

    assert isinstance(reading, Reading)
    assert reading.value == pytest.approx(40.556, abs=0.001)


def test_a_reading_is_asked_for_and_again_before_the_last_one_is_stale() -> None:
    rig = Asked()
    rig.sample(frozenset({"supply_air"}))
    after(rig, 400_000)

    asked = [text for text in rig.said if text.startswith("Read supply air")]

    assert asked == ["Read supply air and type it with its unit, such as 70 F."] * 3


def test_the_person_looks_around_before_a_sequence_and_may_say_what_is_otherwise() -> None:
    rig = Asked()

    assert rig.survey((Condition("blower", "off"),))
    events = typed(rig, "blower on", "")

    assert "off: blower, contactor" in rig.said[0]
    assert events == [Snapshot(t=2000, points={"blower": "on", "contactor": "off"})]


def test_where_all_is_known_only_what_matters_is_looked_at_again() -> None:
    rig = Asked()
    rig.survey(())
    typed(rig, "")

    assert not rig.survey(())
    assert rig.survey((Condition("blower", "off"),))


def test_the_same_state_twice_is_one_edge() -> None:
    events = typed(Asked(), "blower on", "blower on", "blower off")

    assert [e.state for e in events if isinstance(e, Edge)] == ["on", "off"]


def test_enter_where_nothing_is_awaited_does_nothing() -> None:
    rig = Asked()

    assert typed(rig, "") == []
    assert rig.said == ["Nothing is awaited now; type what you see, such as blower off."]


def test_a_question_mark_repeats_what_is_asked() -> None:
    rig = Asked()
    rig._move(Move(calls=frozenset({"G"})))
    typed(rig, "?")

    assert rig.said[0] == rig.said[1]


def test_power_and_switches_are_asked_one_after_the_other() -> None:
    rig = Asked()
    rig._move(Move(power="off"))
    rig._move(Move(open_switch="limit"))
    events = typed(rig, "", "")

    assert rig.said[0] == "Switch the 24 V control power (R) off. Press Enter at that moment."
    assert "Open the high limit switch: at its one lead" in rig.said[1]
    assert [type(event) for event in events] == [Power, Switch]


def test_a_float_is_tripped_by_water() -> None:
    rig = Asked()
    rig._move(Move(open_switch="float_switch"))
    after(rig, 100)

    assert rig.said == ["Pour water into the pan until the float trips. Press Enter at that moment."]


def test_what_was_pressed_by_mistake_is_taken_back_as_if_it_had_not_been() -> None:
    rig = Asked()
    rig.survey((Condition("blower", "off"),))
    rig.look_for(Look((BLOWER_ON,)))

    events = typed(rig, "", "", "wrong", "")

    assert [type(event) for event in events] == [Snapshot, Edge]
    assert "Taken back: blower on." in rig.said


def test_what_is_taken_back_too_late_leaves_the_point_unknown_from_then_until_now() -> None:
    rig = Asked()
    rig.survey((Condition("blower", "off"),))
    typed(rig, "", "blower on")
    gap, known = typed(rig, "wrong")

    assert isinstance(gap, Gap)
    assert (gap.points, gap.because) == (("blower",), "the person took back: blower on")
    assert isinstance(known, Snapshot)
    assert known.points["blower"] == "off"
    assert rig.said[-1].endswith("It may be judged already: run this sequence again.")


def test_nothing_is_taken_back_twice() -> None:
    rig = Asked()

    assert typed(rig, "wrong") == []
    assert rig.said == ["There is nothing to take back."]
