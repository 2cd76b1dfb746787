"""The usual cautions, as they stand on whatever is printed of a plan; site rules come before all of them."""

from typing import Final

SITE_RULES: Final = "Site rules, local codes and licensed practice come before anything printed here."
WHOSE_LAMPS: Final = (
    "Where the plan gives no figure these are Festoon's own. "
    "What a lamp and its douser can really take is for the lamphouse's maker to say."
)

# Each list stands beside what its dangers come of.
LAMP_CAUTIONS: Final = (
    "A xenon lamp is under pressure even when cold and may burst: trained people only.",
    "At an open lamphouse wear face shield, body cover and gauntlets.",
    "Strike with the douser shut and the housing closed. Mind ultraviolet, ozone and the igniter's high voltage.",
    "Let a lamp cool at least ten minutes with the blower on.",
)
FILM_CAUTIONS: Final = (
    "Never run nitrate or archive prints in a chain.",
    "Film that pulls tight brings down rollers and arms: never grab it. Its base is strong; the machine gives first.",
    "Keep hands and clothing away from moving film and platters.",
    "Reach rollers at height from a proper platform, never by leaning out.",
    "Film, stands and cables must not cross or narrow a way out: ask the local fire authority.",
)
STOP_CAUTION: Final = "Festoon only watches and is no safety barrier: the hard-wired stop stays independent of it."
