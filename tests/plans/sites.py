"""A site to make plans at, invented."""

SITE = """\
# Measured by the crew, in winter.
format = "festoon-site/1"
site = "Quarry Lane"

[[houses]]
house = "1"
booth = "North"
deck_core_mm = 300
deck_roll_mm = 900

[[houses]]
house = "2"
booth = "South"
reserve_s = 1.5
inputs = { motor = "contact" }

[[houses]]
house = "3"
booth = "South"

# Up the stairs.
[[paths]]
from = "2"
to = "1"
path_ft = 101.5   # taped by Ida
rollers = 8

[[paths]]
from = "2"
to = "3"
path_m = 12.25

# Where the stairs are.
[[walks]]
from = "North"
to = "South"
walk_s = 55
"""
BROKEN = SITE.replace("path_ft = 101.5", "path_ft = -1").replace("walk_s = 55", 'walk_s = "far"')
