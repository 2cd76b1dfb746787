"""Film as arithmetic: frames, feet and metres to seconds, and back.

Two feet are in use and are never mixed. A counter foot is a number of frames and converts to time exactly; a
tape-measure foot is 304.8 mm of film, and so depends on the pitch. Prints are counted, paths are taped.
"""

from dataclasses import dataclass
from typing import Final, Literal

Gauge = Literal["16mm", "35mm", "70mm"]

FOOT_M: Final = 0.3048

# Perforations x pitch: 35 mm 4 x 4.750 (SMPTE 102-2002), 70 mm 5 x 4.750 (SMPTE ST 119:2011),
# 16 mm 1 x 7.620, the long pitch (SMPTE 109-2003).
FRAME_MM: Final[dict[Gauge, float]] = {"16mm": 7.620, "35mm": 19.000, "70mm": 23.750}

# Trade encyclopaedias; 35 mm also J. R. Cameron, Motion Picture Projection.
FRAMES_PER_COUNTER_FOOT: Final[dict[Gauge, float]] = {"16mm": 40.0, "35mm": 16.0, "70mm": 12.8}


@dataclass(frozen=True, slots=True)
class Film:
    """One gauge of film, running at `frame_rate` frames a second, its pitch shrunk by `shrinkage_percent`."""

    gauge: Gauge = "35mm"
    frame_rate: float = 24.0
    shrinkage_percent: float = 0.0

    @property
    def frame_mm(self) -> float:
        """Length of one frame of this print, shrinkage included."""
        return FRAME_MM[self.gauge] * (1.0 - self.shrinkage_percent / 100.0)

    @property
    def speed_m_per_s(self) -> float:
        """How fast film goes through a gate: frame length x frame rate."""
        return self.frame_mm * self.frame_rate / 1000.0

    @property
    def frames_per_foot(self) -> float:
        """Frames in a counter foot, which shrinkage does not change."""
        return FRAMES_PER_COUNTER_FOOT[self.gauge]

    def s_from_frames(self, frames: float) -> float:
        """Running time of that many frames."""
        return frames / self.frame_rate

    def s_from_counter_ft(self, feet: float) -> float:
        """Running time of counter feet: exact, whatever the pitch."""
        return feet * self.frames_per_foot / self.frame_rate

    def counter_ft_from_s(self, seconds: float) -> float:
        """Counter feet that run in that time."""
        return seconds * self.frame_rate / self.frames_per_foot

    def feet_and_frames(self, seconds: float) -> tuple[int, int]:
        """Whole counter feet that run in that time, either way, and the frames over, to the nearest frame."""
        frames = round(abs(seconds) * self.frame_rate)
        feet = int((frames + 0.5) / self.frames_per_foot)
        return feet, round(frames - feet * self.frames_per_foot)

    def in_words(self, seconds: float) -> str:
        """Return that as people say it: "3 ft 5 frames"."""
        feet, frames = self.feet_and_frames(seconds)
        return f"{feet} ft {frames} frame{'' if frames == 1 else 's'}"

    def s_from_m(self, metres: float) -> float:
        """Running time of a length of film laid along a tape measure."""
        return metres / self.speed_m_per_s

    def m_from_s(self, seconds: float) -> float:
        """Length of film, as a tape measures it, that runs in that time."""
        return seconds * self.speed_m_per_s

    def s_from_tape_ft(self, feet: float) -> float:
        """Running time of tape-measure feet."""
        return self.s_from_m(feet * FOOT_M)

    def tape_ft_from_s(self, seconds: float) -> float:
        """Tape-measure feet that run in that time."""
        return self.m_from_s(seconds) / FOOT_M
