"""The screens that desks are looked at on."""

from typing import Final

SIZES: Final[dict[str, tuple[int, int]]] = {
    "1920x1080": (1920, 1080),
    "1366x768": (1366, 768),
    "3840x2160": (3840, 2160),
    "1024x768": (1024, 768),
    "390x844": (390, 844),
}
"""A television, a laptop, a large television, a tablet and a phone, in CSS pixels."""

ENLARGED: Final = {
    "1366x768 at 200 %": (683, 384),
    "1024x768 at 200 %": (512, 384),
    "390x844 at 200 %": (195, 422),
}
"""The laptop, the tablet and the phone at 200 %: what is left of them in CSS pixels."""
