"""Film arithmetic against figures from outside the project; each names its source, and how it was had."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.timeline.film import FRAME_MM, FRAMES_PER_COUNTER_FOOT, Film, Gauge

# Trade encyclopaedias' footage tables; running time = feet x frames in a foot / rate (exact arithmetic).
FEET = (90, 112.5, 400, 1000, 2000, 12000)
RUNNING_TIMES = {
    ("35mm", 24): ("1:00.000", "1:15.000", "4:26.667", "11:06.667", "22:13.333", "133:20.000"),
    ("35mm", 25): ("0:57.600", "1:12.000", "4:16.000", "10:40.000", "21:20.000", "128:00.000"),
    ("16mm", 24): ("2:30.000", "3:07.500", "11:06.667", "27:46.667", "55:33.333", "333:20.000"),
    ("70mm", 24): ("0:48.000", "1:00.000", "3:33.333", "8:53.333", "17:46.667", "106:40.000"),
}

GAUGES: list[Gauge] = ["16mm", "35mm", "70mm"]


def seconds_from_clock(text: str) -> float:
    minutes, seconds = text.split(":")
    return int(minutes) * 60 + float(seconds)


@pytest.mark.parametrize(
    ("gauge", "rate", "feet", "clock"),
    [
        (gauge, rate, feet, clock)
        for (gauge, rate), rows in RUNNING_TIMES.items()
        for feet, clock in zip(FEET, rows, strict=True)
    ],
)
def test_running_times_are_the_published_ones(gauge: Gauge, rate: int, feet: float, clock: str) -> None:
    """Counter feet run for as long as the footage tables say, to their millisecond."""
    film = Film(gauge, frame_rate=float(rate))
    assert round(film.s_from_counter_ft(feet), 3) == pytest.approx(seconds_from_clock(clock), abs=1e-9)
    assert film.counter_ft_from_s(film.s_from_counter_ft(feet)) == pytest.approx(feet)


def test_a_published_mistake_does_not_come_out() -> None:
    """400 ft of 16 mm do not run in 10 minutes, as one published table has it, but in 11:06.667."""
    assert Film("16mm").s_from_counter_ft(400) == pytest.approx(666.667, abs=5e-4)


@pytest.mark.parametrize(
    ("gauge", "frame_mm"),
    [
        ("35mm", 4 * 4.750),  # pitch of SMPTE 102-2002, table 1 (read), x 4 perforations
        ("70mm", 5 * 4.750),  # pitch of SMPTE ST 119:2011, 1 (read), x 5
        ("16mm", 7.620),  # long pitch of SMPTE 109-2003 (read), x 1
    ],
)
def test_a_frame_is_perforations_times_pitch(gauge: Gauge, frame_mm: float) -> None:
    """A frame has the length of its perforations' pitches."""
    assert FRAME_MM[gauge] == frame_mm
    assert Film(gauge).frame_mm == frame_mm


def test_the_35mm_pitch_lies_within_its_standard() -> None:
    """100 pitches measure 18.700 +- 0.015 in (SMPTE 102-2002, table 1, read)."""
    assert 100 * Film("35mm").frame_mm / 4 / 25.4 == pytest.approx(18.700, abs=0.015)


@pytest.mark.parametrize(("gauge", "frames"), [("35mm", 16), ("16mm", 40), ("70mm", 12.8)])
def test_a_counter_foot_is_a_number_of_frames(gauge: Gauge, frames: float) -> None:
    """Frames in a counter foot: trade encyclopaedias, 35 mm also J. R. Cameron (read, second hand)."""
    assert FRAMES_PER_COUNTER_FOOT[gauge] == Film(gauge).frames_per_foot == frames


@pytest.mark.parametrize(
    ("gauge", "rate", "speed"),
    [("35mm", 24, 0.456), ("35mm", 25, 0.475), ("70mm", 24, 0.570), ("16mm", 24, 0.18288)],
)
def test_film_speed(gauge: Gauge, rate: float, speed: float) -> None:
    """Speed is frame length x rate (exact arithmetic from the pitches)."""
    assert Film(gauge, rate).speed_m_per_s == pytest.approx(speed, rel=1e-12)


def test_speed_in_metres_a_minute() -> None:
    """35 mm at 24 frames a second runs 27.36 m in a minute (exact arithmetic)."""
    assert Film().m_from_s(60) == pytest.approx(27.36)


@pytest.mark.parametrize(("rate", "seconds"), [(24, 43.860), (25, 42.105), (23, 45.767)])
def test_twenty_metres_of_path(rate: float, seconds: float) -> None:
    """20 m of 35 mm path at 24 frames a second and at the ends of ISO 26:1993's tolerance (exact arithmetic)."""
    assert Film("35mm", rate).s_from_m(20) == pytest.approx(seconds, abs=5e-4)


def test_eighty_feet_across_a_lobby() -> None:
    """An 80 ft run is about 53 s (common practice, no source)."""
    assert Film().s_from_tape_ft(80) == pytest.approx(53, abs=0.5)


def test_the_two_feet_are_told_apart() -> None:
    """A tape-measure foot is 0.2632 % longer than 16 frames of 35 mm (exact arithmetic)."""
    film = Film()
    assert film.m_from_s(film.s_from_counter_ft(1)) == pytest.approx(0.304)
    ratio = film.s_from_tape_ft(1) / film.s_from_counter_ft(1)
    assert (ratio - 1) * 100 == pytest.approx(0.2632, abs=5e-5)


@pytest.mark.parametrize(
    ("frames", "seconds", "feet"),
    [
        (12 * 16, 8.0, 12.0),  # head leader, start mark to picture: SMPTE 55 (read)
        (4 + 172 + 4 + 18, 8.250, 12.375),  # motor cue before the end: SMPTE 301M (second hand); not "12.34 ft"
        (4 + 18, 0.917, 1.375),  # changeover cue before the end: the same
    ],
)
def test_frames_of_leaders_and_cues(frames: int, seconds: float, feet: float) -> None:
    """Standard leaders and cues last as long as their standards' frames do at 24 a second."""
    film = Film()
    assert film.s_from_frames(frames) == pytest.approx(seconds, abs=5e-4)
    assert film.counter_ft_from_s(film.s_from_frames(frames)) == pytest.approx(feet)


def test_shrinkage_shortens_the_pitch_and_no_count() -> None:
    """A print shrunk by 1.25 % (archive practice, read) is slower past a tape, and runs as long by the counter."""
    film, shrunken = Film(), Film(shrinkage_percent=1.25)
    assert shrunken.frame_mm == pytest.approx(19.0 * 0.9875)
    assert shrunken.s_from_m(20) == pytest.approx(film.s_from_m(20) / 0.9875)
    assert shrunken.s_from_counter_ft(90) == film.s_from_counter_ft(90) == 60.0


@settings(deadline=None)
@given(
    film=st.builds(Film, st.sampled_from(GAUGES), st.floats(1, 120), st.floats(0, 5)),
    seconds=st.floats(0, 1e5),
)
def test_every_conversion_has_its_way_back(film: Film, seconds: float) -> None:
    """Seconds to a length and back are the same seconds."""
    assert film.s_from_m(film.m_from_s(seconds)) == pytest.approx(seconds)
    assert film.s_from_tape_ft(film.tape_ft_from_s(seconds)) == pytest.approx(seconds)
    assert film.s_from_counter_ft(film.counter_ft_from_s(seconds)) == pytest.approx(seconds)


@pytest.mark.parametrize(
    ("gauge", "seconds", "feet_and_frames"),
    [
        ("35mm", 0.0, (0, 0)),
        ("35mm", 1.0, (1, 8)),  # 24 frames are a foot of 16 and 8 over
        ("35mm", -1.0, (1, 8)),
        ("35mm", 15.4 / 24.0, (0, 15)),
        ("35mm", 15.6 / 24.0, (1, 0)),  # to the nearest frame, which is a whole foot
        ("16mm", 2.0, (1, 8)),  # 48 frames, a foot of 40
        ("70mm", 13.0 / 24.0, (1, 0)),  # a foot of 12.8: 13 frames are a foot and a fifth of a frame
        ("70mm", 64.0 / 24.0, (5, 0)),
    ],
)
def test_film_is_counted_in_feet_and_frames(gauge: Gauge, seconds: float, feet_and_frames: tuple[int, int]) -> None:
    """A length of time is so many whole counter feet and frames over, the same either way."""
    assert Film(gauge).feet_and_frames(seconds) == feet_and_frames


@given(st.sampled_from(GAUGES), st.floats(-10_000.0, 10_000.0))
def test_feet_and_frames_lose_less_than_a_frame(gauge: Gauge, seconds: float) -> None:
    """Feet and frames together are the film that runs in that time, and the frames are fewer than a foot has."""
    film = Film(gauge)
    feet, frames = film.feet_and_frames(seconds)
    assert feet >= 0
    assert 0 <= frames < film.frames_per_foot
    assert feet * film.frames_per_foot + frames == pytest.approx(abs(seconds) * film.frame_rate, abs=1.0)
