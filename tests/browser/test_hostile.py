"""A page of another origin in a browser that can reach the server."""

import pytest
from playwright.sync_api import BrowserContext

from tests.browser.conftest import KEEPING
from tests.browser.served import Served

pytestmark = [pytest.mark.slow, KEEPING]

ELSEWHERE = "http://127.0.0.1:9/"
"""The port for discarding (RFC 863): nothing answers there, and the browser is given the page by the test."""

ATTACK = """async ([base, run]) => {
    const event = { id: "forged", kind: "motor_stop", station: "a", source: "tap" };
    const outcome = (promise) => promise.then(() => "done", () => "refused");
    const post = (type, mode) => fetch(`${base}/api/runs/${run}/events`,
        { method: "POST", mode, headers: { "content-type": type }, body: JSON.stringify(event) });
    const told = await new Promise((resolve) => {
        const socket = new WebSocket(`${base.replace("http", "ws")}/api/runs/${run}/live`);
        socket.onmessage = () => resolve("heard");
        socket.onopen = () => socket.send(JSON.stringify({ type: "event", event }));
        socket.onclose = () => resolve("closed");
    });
    await outcome(post("text/plain", "no-cors"));
    return {
        socket: told,
        read: await outcome(fetch(`${base}/api/runs`)),
        post: await outcome(post("application/json", "cors")),
        script: await outcome(import(`${base}/static/js/live/runs.js`)),
        worker: await outcome(navigator.serviceWorker.register(`${base}/booth-worker.js`)),
        framed: await new Promise((resolve) => {
            const frame = document.createElement("iframe");
            frame.src = `${base}/booth?run=${run}`;
            frame.onload = () => resolve(frame.contentDocument === null ? "out of reach" : "within reach");
            document.body.append(frame);
        }),
    };
}"""


def test_a_page_from_elsewhere_can_neither_read_nor_report(two_houses: Served, context: BrowserContext) -> None:
    """It gets no websocket, no answer, no module, no worker and no frame, and what it posts is not taken."""
    page = context.new_page()
    page.route(
        f"{ELSEWHERE}**",
        lambda route: route.fulfill(
            body="<!doctype html><title>Elsewhere</title><body></body>", content_type="text/html"
        ),
    )
    page.goto(ELSEWHERE)
    assert page.evaluate("() => location.origin") == ELSEWHERE.rstrip("/")
    assert page.evaluate(ATTACK, [two_houses.base, two_houses.runs[0]]) == {
        "socket": "closed",
        "read": "refused",
        "post": "refused",
        "script": "refused",
        "worker": "refused",
        "framed": "out of reach",
    }
    snapshot = page.request.get(f"{two_houses.base}/api/runs/{two_houses.runs[0]}").json()
    assert snapshot["events"] == []
