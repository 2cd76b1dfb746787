"""How somebody taps what they see: late by their reaction, and by what else was on their mind."""

import numpy as np

# Woods et al. 2015, Front. Hum. Neurosci. 9:131: mean reaction to a light, with the apparatus's own delay.
REACTION_MEAN_S = 0.231
# Chosen: the usual shape of reaction times, a bell with a tail; how the mean divides between them is ours.
_REACTION_TAIL_S = 0.060
_REACTION_BELL_SD_S = 0.030
_FASTEST_S = 0.100
# Chosen: from the finger on the glass to the time written down.
_TOUCH_S = 0.019
# Chosen.
_NOTICES_AFTER_S = 2.0


def reaction_s(rng: np.random.Generator) -> float:
    """From something to be seen to the finger on the glass, by someone who waits for it."""
    bell_s = REACTION_MEAN_S - _REACTION_TAIL_S + _REACTION_BELL_SD_S * float(rng.standard_normal())
    return max(_FASTEST_S, bell_s + float(rng.exponential(_REACTION_TAIL_S)))


def tap_after_s(rng: np.random.Generator, attention_sd_s: float, *, surprise: bool) -> float:
    """From something to be seen to the time of the tap; early, too, by those who count down to it."""
    noticed_s = float(rng.exponential(_NOTICES_AFTER_S)) if surprise else 0.0
    return noticed_s + reaction_s(rng) + _TOUCH_S + attention_sd_s * float(rng.standard_normal())
