"""Whatever a desk says is answered, once, and the run goes on."""

import asyncio
import json
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.readers import said

SCALARS = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12)
JSON: st.SearchStrategy[Any] = st.recursive(
    SCALARS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
)
KINDS = ["motor_start", "motor_stop", "mark_pass", "slack_read", "retract", "ack", "shelve", "hold", "call", "report"]
LIKELY: dict[str, st.SearchStrategy[Any]] = {
    "id": st.sampled_from(["e1", "e2", "e3"]),
    "kind": st.sampled_from(KINDS),
    "station": st.sampled_from(["a", "b", "nowhere"]),
    "source": st.sampled_from(["tap", "contact:x", "recording"]),
    "t": st.sampled_from(["2026-03-14T23:51:00Z", "2026-03-14T23:52:00.5-05:00", "1900-01-01T00:00:00Z", "now"]),
    "mark": st.sampled_from(["short", "end", "none"]),
    "seconds": st.floats() | st.integers(-100, 100),
    "retracts": st.sampled_from(["e1", "e2", "e3"]),
    "alarm": st.sampled_from(["motor_lost:a", "slack_tight:a>b", "none"]),
    "what": st.sampled_from(["no_picture", "none"]),
    "to": st.sampled_from(["all", "nobody"]),
    "text": st.text(max_size=5),
    "sigma_s": st.floats(),
}
EVENT = st.fixed_dictionaries({}, optional={key: value | JSON for key, value in LIKELY.items()})
PLAIN = st.fixed_dictionaries({}, optional=LIKELY)
MESSAGE = st.fixed_dictionaries({"type": st.just("event"), "event": EVENT | PLAIN | JSON}) | st.fixed_dictionaries(
    {"type": st.just("time"), "c": JSON}
)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists((MESSAGE | JSON).map(json.dumps) | st.text(max_size=40), min_size=1, max_size=8))
def test_anything_is_answered_and_the_run_goes_on(texts: list[str]) -> None:
    """Text that is no JSON, JSON that is no message, events of any kind and value, in any order, one after another."""
    asyncio.run(said(texts))
