"""The minutes of a toolpath: closed forms, a published move, and a numeric integration."""

import math
from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gramhour_service.toolpath.lookahead import MOST_WAITING, Queue
from gramhour_service.toolpath.motion import Drives, Motion
from tests.toolpath.integration import Leg, integrated
from tests.toolpath.paths import MOTION, read, seconds

PLAIN = Motion(speed_mm_s=500, acceleration_mm_s2=1000, corner_speed_change_mm_s=10)


def test_the_published_move_takes_its_published_time() -> None:
    # Dover Motion, Motion Control Handbook, fig. 20: 0.204 + 0.107 + 0.082 s.
    motion = replace(PLAIN, speed_mm_s=400, acceleration_mm_s2=1960, deceleration_mm_s2=4900)
    assert seconds(["G1 X100 E1 F60000"], motion) == pytest.approx(0.393, abs=0.0005)
    exact = 400 / 1960 + 400 / 4900
    exact += (100 - 400**2 / 2 / 1960 - 400**2 / 2 / 4900) / 400
    assert seconds(["G1 X100 E1 F60000"], motion) == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize(("length", "reached"), [(57.0, False), (57.3, True)])
def test_the_published_move_is_triangular_below_its_published_length(
    length: float, reached: bool
) -> None:
    # The same figure: triangular below 57.1 mm (57.14 by computation).
    motion = replace(PLAIN, speed_mm_s=400, acceleration_mm_s2=1960, deceleration_mm_s2=4900)
    toolpath = read([f"G1 X{length} E{length} F60000"], motion)
    top = toolpath.peak_flow_mm3_s / (math.pi * 1.75**2 / 4)
    assert (top == pytest.approx(400, rel=1e-12)) == reached


def cut(pieces: int, feed: float) -> list[str]:
    """A line from (3, 7, 1) to (123, 43, 1.5) in pieces of drawn lengths."""
    random = Random(pieces)
    shares = [0.0, *sorted(random.random() for _ in range(pieces - 1)), 1.0]
    places = [(3 + 120 * s, 7 + 36 * s, 1 + 0.5 * s) for s in shares]
    lines = ["M83", "G92 X3 Y7 Z1"]
    for (share, place), before in zip(
        list(zip(shares, places, strict=True))[1:], shares[:-1], strict=True
    ):
        x, y, z = place
        lines.append(f"G1 X{x!r} Y{y!r} Z{z!r} E{10 * (share - before):.17f} F{feed}")
    return lines


@pytest.mark.parametrize("feed", [1200, 6000, 60000])
def test_a_line_takes_the_same_time_however_it_is_cut(feed: float) -> None:
    whole = seconds(cut(1, feed))
    assert seconds(cut(1000, feed)) == pytest.approx(whole, rel=1e-9)
    assert seconds(cut(7, feed)) == pytest.approx(whole, rel=1e-9)


def test_a_path_takes_the_same_time_however_its_lines_are_cut() -> None:
    def lines(pieces: int) -> list[str]:
        made, places = ["M83", "F6000"], [(0, 0), (30, 10), (31, 11), (20, 40), (90, 40), (10, 39)]
        for (x0, y0), (x1, y1) in pairwise(places):
            for k in range(1, pieces + 1):
                x, y = x0 + (x1 - x0) * k / pieces, y0 + (y1 - y0) * k / pieces
                made.append(f"G1 X{x!r} Y{y!r} E{1 / pieces!r}")
        return made

    assert seconds(lines(200)) == pytest.approx(seconds(lines(1)), rel=1e-9)


def test_a_helix_is_as_long_as_its_closed_form() -> None:
    # √((2π · 20)² + 8²) mm at 10 mm/s; the vertical axis could climb faster.
    length = math.hypot(math.tau * 20, 8)
    exact = length / 10 + 10 / 1000
    assert seconds(["G3 I20 Z8 E9 F600"], PLAIN) == pytest.approx(exact, rel=1e-12)


def test_an_arc_takes_the_same_time_however_it_is_cut() -> None:
    def lines(pieces: int) -> list[str]:
        made = ["M83", "G0 X50"]
        for k in range(pieces):
            now, then = math.tau * k / pieces / 2, math.tau * (k + 1) / pieces / 2
            x, y = 50 * math.cos(then), 50 * math.sin(then)
            i, j = -50 * math.cos(now), -50 * math.sin(now)
            made.append(f"G3 X{x:.17f} Y{y:.17f} I{i:.17f} J{j:.17f} E{5 / pieces:.17f} F9000")
        return made

    assert seconds(lines(1000)) == pytest.approx(seconds(lines(1)), rel=1e-9)


def test_a_right_angle_is_taken_at_the_speed_whose_change_is_allowed() -> None:
    # The velocity changes by √2 times the speed: 10/√2 mm/s at the corner, from there and to a
    # stand with 1000 mm/s².
    corner = 10 / math.sqrt(2)
    top = 50.0
    leg = top / 1000 + (top - corner) / 1000
    leg += (40 - top**2 / 2000 - (top**2 - corner**2) / 2000) / top
    lines = ["G1 X40 E1 F3000", "G1 Y40 E2"]
    assert seconds(lines, PLAIN) == pytest.approx(2 * leg, rel=1e-12)


def test_a_way_back_is_taken_at_half_the_allowed_change() -> None:
    top, corner = 50.0, 5.0
    leg = top / 1000 + (top - corner) / 1000
    leg += (40 - top**2 / 2000 - (top**2 - corner**2) / 2000) / top
    assert seconds(["G1 X40 E1 F3000", "G1 X0 E2"], PLAIN) == pytest.approx(2 * leg, rel=1e-12)


def test_a_full_circle_takes_its_length_over_the_feed_and_what_start_and_stop_take() -> None:
    toolpath = seconds(["G2 X0 Y0 I-30 J0 E9 F3000"], PLAIN)
    assert toolpath == pytest.approx(math.tau * 30 / 50 + 50 / 1000, rel=1e-12)


def test_on_an_arc_the_pull_outwards_is_at_most_the_acceleration() -> None:
    # v²/r = 1000 mm/s² at r = 2.5 mm: 50 mm/s, whatever the feed.
    exact = math.tau * 2.5 / 50 + 50 / 1000
    assert seconds(["G3 I2.5 E9 F18000"], PLAIN) == pytest.approx(exact, rel=1e-12)


def test_the_vertical_axis_has_limits_of_its_own() -> None:
    # 10 mm up at 15 mm/s with 200 mm/s².
    up = 10 / 15 + 15 / 200
    lines = ["G1 X10 E1 F6000", "G1 E2 F60", "G1 Z10 F6000"]
    assert seconds(lines) - seconds(lines[:2]) == pytest.approx(up, rel=1e-9)


def test_filament_that_moves_alone_starts_and_ends_with_the_nozzle_standing() -> None:
    motion = replace(PLAIN, filament_speed_mm_s=45, filament_acceleration_mm_s2=900)
    line = 60 / 50 + 50 / 1000
    back = 5 / 40 + 40 / 900
    lines = ["M83", "G1 X60 E1 F3000", "G1 E-5 F2400", "G1 E5", "G1 X120 E1 F3000"]
    assert seconds(lines, motion) == pytest.approx(2 * line + 2 * back, rel=1e-12)


def test_filament_limits_the_speed_of_a_move_that_feeds_much() -> None:
    # 30 mm of filament along 60 mm, at most 20 mm/s of it: 40 mm/s along the path.
    motion = replace(PLAIN, filament_speed_mm_s=20)
    assert seconds(["G1 X60 E30 F6000"], motion) == pytest.approx(60 / 40 + 40 / 1000, rel=1e-12)


def test_dwells_changes_of_tool_and_the_machines_own_retraction_take_their_time() -> None:
    motion = replace(PLAIN, tool_change_s=7, retraction_mm=2, filament_speed_mm_s=40)
    lines = ["M83", "G1 X60 E1 F3000", "G1 X120 E1"]
    apart = [lines[0], lines[1], "G4 P1500", "G4 S3", "G10", "G10", "G11", "G11", "T1", "T1", "T0"]
    line = 60 / 50 + 50 / 1000
    retraction = 2 * (2 / 40 + 40 / 1000)
    expected = 2 * line + 4.5 + retraction + 2 * 7
    assert seconds([*apart, lines[2]], motion) == pytest.approx(expected, rel=1e-12)


def test_without_any_feed_the_machine_goes_as_fast_as_it_can_and_that_is_told() -> None:
    toolpath = read(["G1 X600 E9"], replace(PLAIN, speed_mm_s=200))
    assert 60 * toolpath.minutes == pytest.approx(600 / 200 + 200 / 1000, rel=1e-12)
    assert toolpath.unfed_moves == 1


def drawn(random: Random) -> tuple[list[str], list[Leg], float]:
    """A path of lines and arcs, some of them climbing: its file, its legs, its length over feed."""
    lines, legs, at_feed = ["M83"], [], 0.0
    x = y = z = 0.0
    for _ in range(random.randint(3, 14)):
        feed = random.choice([random.uniform(5, 60), random.uniform(20, 400)])
        size = random.choice([0.3, 2.0, 20.0])
        climb = random.choice([0.0, 0.0, 0.0, random.uniform(-0.5, 0.5) * size])
        speed = min(feed, MOTION.speed_mm_s)
        if random.random() < 0.7:
            dx, dy = random.uniform(-size, size), random.uniform(-size, size)
            words, length = "", math.hypot(dx, dy, climb)
            leaving = arriving = (dx / length, dy / length, climb / length)
            code = "G1"
        else:
            radius, sweep = random.uniform(0.3, 1) * size, random.uniform(0.3, 6)
            turn, start = random.choice([-1, 1]), random.uniform(0, math.tau)
            end = start + turn * sweep
            dx = radius * (math.cos(end) - math.cos(start))
            dy = radius * (math.sin(end) - math.sin(start))
            words = f" I{-radius * math.cos(start):.12f} J{-radius * math.sin(start):.12f}"
            level = radius * sweep
            length = math.hypot(level, climb)
            leaving, arriving = (
                (
                    -turn * math.sin(a) * level / length,
                    turn * math.cos(a) * level / length,
                    climb / length,
                )
                for a in (start, end)
            )
            speed = min(speed, math.sqrt(MOTION.acceleration_mm_s2 * radius) * length / level)
            code = "G3" if turn > 0 else "G2"
        x, y, z = x + dx, y + dy, z + climb
        lines.append(f"{code} X{x:.12f} Y{y:.12f} Z{z:.12f}{words} E0.01 F{60 * feed:.12f}")
        share = abs(climb) / length
        limits = [MOTION.acceleration_mm_s2, MOTION.deceleration_mm_s2 or 0.0]
        if share:
            assert MOTION.vertical_speed_mm_s
            assert MOTION.vertical_acceleration_mm_s2
            speed = min(speed, MOTION.vertical_speed_mm_s / share)
            limits = [min(each, MOTION.vertical_acceleration_mm_s2 / share) for each in limits]
        speed = min(speed, 45 * length / 0.01)
        legs.append(Leg(length, speed, limits[0], limits[1], leaving, arriving))
        at_feed += length / feed
    return lines, legs, at_feed


def test_drawn_paths_take_what_an_integration_says_and_no_less_than_their_feeds() -> None:
    random = Random(20261125)
    for _ in range(500 if settings.get_current_profile_name() == "long" else 120):
        lines, legs, at_feed = drawn(random)
        took = seconds(lines)
        assert took == pytest.approx(integrated(legs, MOTION.corner_speed_change_mm_s), rel=0.005)
        assert took >= at_feed * (1 - 1e-12)


@given(
    st.lists(
        st.tuples(st.floats(-50, 50), st.floats(-50, 50), st.floats(1, 500)),
        min_size=2,
        max_size=20,
    ),
    st.floats(10, 20_000),
    st.floats(0.1, 50),
)
def test_no_machine_is_faster_than_the_feed(
    points: list[tuple[float, float, float]], rise: float, corner: float
) -> None:
    motion = Motion(speed_mm_s=1000, acceleration_mm_s2=rise, corner_speed_change_mm_s=corner)
    lines = ["M83"] + [f"G1 X{x:.6f} Y{y:.6f} E1 F{60 * feed:.6f}" for x, y, feed in points]
    lines.append("G1 X200 E1")
    places = [(0.0, 0.0, 0.0), *points, (200.0, points[-1][1], points[-1][2])]
    at_feed = sum(
        math.hypot(x - x0, y - y0) / feed for (x0, y0, _), (x, y, feed) in pairwise(places)
    )
    assert seconds(lines, motion) >= at_feed * (1 - 1e-5)


def test_looking_ahead_in_pieces_is_looking_ahead_over_all() -> None:
    """A spiral of 9,000 short lines, from slow to fast, against one integration over all."""
    lines, legs = ["M83"], []
    x, y = 0.0, 0.0
    for k in range(9_000):
        angle, length = k * k * 2e-6, 0.05
        dx, dy = length * math.cos(angle), length * math.sin(angle)
        x, y = x + dx, y + dy
        speed = 300.0 if k < 8_900 else 250.0
        lines.append(f"G1 X{x:.14f} Y{y:.14f} E0.001 F{60 * speed}")
        way = (math.cos(angle), math.sin(angle), 0.0)
        legs.append(Leg(length, speed, 1500, 2500, way, way))
    expected = integrated(legs, MOTION.corner_speed_change_mm_s, steps=10)
    assert seconds(lines) == pytest.approx(expected, rel=0.001)


def test_what_is_never_settled_is_cut_where_too_much_of_it_waits() -> None:
    """Speeding up all along 20 m, a stop may come at any time; the memory for that has an end."""
    drives = Drives(Motion(speed_mm_s=1000, acceleration_mm_s2=2, corner_speed_change_mm_s=10))
    piece = drives.line(0.05, 0, 0, 0.001, 1000)
    assert piece
    queue = Queue(drives)
    most = 0
    for _ in range(3 * MOST_WAITING):
        queue.add(piece, 0.001)
        most = max(most, len(queue._waiting))
    queue.finish()
    assert most < MOST_WAITING
    from_stand_to_stand = 2 * math.sqrt(0.05 * MOST_WAITING / 2)
    assert math.sqrt(3) * from_stand_to_stand < queue.seconds < 6 * from_stand_to_stand
