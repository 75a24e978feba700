"""The rig on a board keeps to what every rig keeps to; its stamps are intervals that depend on its polls."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from board_rigs import mockup
from native_core import Core

from rigs.test_contract import (  # noqa: F401 - collected here with this module's fixture
    Enrolled,
    test_a_point_turns_only_to_a_state_it_was_not_in,
    test_an_edge_is_no_wider_than_declared,
    test_an_edge_never_happened_after_its_stamp,
    test_closing_twice_is_no_fault,
    test_events_come_in_order_and_never_at_or_before_what_was_settled,
    test_every_move_asked_for_is_reported,
    test_only_declared_points_are_reported,
    test_what_is_delivered_does_not_depend_on_how_often_it_is_polled,
)


@pytest.fixture
def enrolled(core_from: Callable[[int], Core]) -> Enrolled:
    return Enrolled(lambda: mockup(core_from(0)).rig, same_stamps=False)
