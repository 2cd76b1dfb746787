"""Keys and entries of a plan as people say them: "House 4: path", "Trailer: Salt Road: length"."""

from collections.abc import Mapping
from typing import Final

from server.plans.keypaths import at_path
from server.plans.spans import KeyPath

LABELS: Final[Mapping[str, tuple[str, str]]] = {
    "title": ("title", ""),
    "site": ("site", ""),
    "timezone": ("time zone", ""),
    "format": ("format of the file", ""),
    "film.gauge": ("film gauge", ""),
    "film.frame_rate": ("frames a second", ""),
    "film.shrinkage_percent": ("shrinkage of the film", "%"),
    "timing.motors_at": ("start of the motors", ""),
    "timing.reserve_s": ("reserve of every link", "s"),
    "timing.start_grace_s": ("how late a start may be", "s"),
    "timing.runup_loss_s": ("film lost at a start", "s"),
    "timing.runup_sigma_s": ("difference of the run-ups", "s"),
    "timing.coast_s": ("film fed after a stop", "s"),
    "timing.start": ("how motors are started", ""),
    "timing.start_spread_s": ("spread of the starts", "s"),
    "timing.path_tolerance_percent": ("uncertainty of a path", "%"),
    "timing.motors": ("kind of motors", ""),
    "timing.rate_tolerance_ppm": ("difference of the motors", "ppm"),
    "timing.line_tolerance_ppm": ("drift of all motors", "ppm"),
    "timing.rate_walk_ppm_per_sqrt_hour": ("wandering of a motor", "ppm in an hour"),
    "timing.tap_sigma_s": ("uncertainty of a tap", "s"),
    "timing.tap_lag_s": ("delay of a tap", "s"),
    "timing.contact_sigma_s": ("uncertainty of a contact", "s"),
    "timing.forecast_horizon_s": ("how far ahead is forecast", "s"),
    "timing.tail_sigma_s": ("uncertainty of the tail", "s"),
    "threading.ends_ft": ("leader before the first and after the last gate", "ft"),
    "threading.spare_percent": ("spare leader", "%"),
    "threading.minutes_per_station": ("threading of a house", "min"),
    "threading.stretch_ft": ("longest stretch", "ft"),
    "threading.stretch_rollers": ("most rollers of a stretch", ""),
    "id": ("name in the file", ""),
    "house": ("house", ""),
    "booth": ("booth", ""),
    "path_ft": ("path", "ft"),
    "path_m": ("path", "m"),
    "rollers": ("rollers", ""),
    "start_offset_s": ("start after the first motor", "s"),
    "reserve_s": ("reserve", "s"),
    "advertised": ("advertised time", ""),
    "earliest_s": ("earliest strike before the picture", "s"),
    "latest_s": ("latest strike before the picture", "s"),
    "douser_limit_s": ("longest time against a shut douser", "s"),
    "gate_limit_s": ("longest time film stands in the light", "s"),
    "inputs.motor": ("who tells of the motor", ""),
    "inputs.lamp": ("who tells of the lamp", ""),
    "inputs.douser": ("who tells of the douser", ""),
    "inputs.cue": ("who tells of the cue", ""),
    "kind": ("kind", ""),
    "frames": ("length", "frames"),
    "feet": ("length", "ft"),
    "duration": ("length", ""),
    "cue": ("foil cue", ""),
    "after": ("piece that it is counted from", ""),
    "say": ("what is to be done", ""),
    "notice_s": ("asked for ahead", "s"),
    "houses": ("houses", ""),
    "stations": ("stations", ""),
}
"""What each key is, and its unit; those of entries by their own names."""

_LISTS: Final = {"print": "piece", "stations": "house", "marks": "mark", "stop_groups": "stop group"}
_WHOLES: Final = {"print": "The print", "stations": "The chain", "marks": "The marks", "stop_groups": "The stop groups"}
_NUMBERS: Final = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def label_of(path: KeyPath) -> tuple[str, str]:
    """What a key is called, and its unit; the key itself where no word is known for it."""
    own = ".".join(part for part in path[2 if path[1:] and isinstance(path[1], int) else 0 :] if isinstance(part, str))
    plain = own.removeprefix("lamp.")
    return LABELS.get(own) or LABELS.get(plain) or (own, "")


def entry_name(data: object, path: KeyPath) -> str:
    """What an entry of a list is called: "House 4", a piece by its title; its place where it has no name."""
    name, place = str(path[0]), int(path[1])
    for key in ("house",) if name == "stations" else ("title", "say", "id"):
        found = at_path(data, (name, place, key))
        if isinstance(found, str) and found.strip():
            return f"House {found}" if name == "stations" else found
    number = _NUMBERS[place] if place < len(_NUMBERS) else f"{place + 1}th"
    return f"The {number} {_LISTS.get(name, 'entry')}"


def place_name(data: object, path: KeyPath) -> str:
    """What a key path is called: "House 4: path", "Title", "The chain"."""
    if len(path) == 1 and path[0] in _WHOLES:
        return _WHOLES[str(path[0])]
    if len(path) > 1 and isinstance(path[1], int):
        label = label_of(path)[0] if len(path) > 2 else ""
        return ": ".join(part for part in (entry_name(data, path), label) if part)
    label = label_of(path)[0]
    return label[:1].upper() + label[1:]
