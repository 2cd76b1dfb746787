"""A simulator of whole shows with known truth, for training, demonstration and measurement.

It has its own equations, not the engine's: motors, film, failsafes, people and contacts. What it hands out are events
like any other source's, with the truth kept apart.
"""

from adapters.drill.catalogue import CATALOGUE, scenario_for
from adapters.drill.demo import demo_events, demo_scenario
from adapters.drill.scenario import Scenario
from adapters.drill.simulate import Drill, simulate
from adapters.drill.truth import Truth

__all__ = ["CATALOGUE", "Drill", "Scenario", "Truth", "demo_events", "demo_scenario", "scenario_for", "simulate"]
