"""The server killed at any moment while twenty tablets write: what was acknowledged is there exactly once.

A real server on a file, with SIGKILL and a new start several times; each tablet sends a tap again until it is
acknowledged, as the outbox does. The counts are printed (`pytest -s`, and `make bench killed`).
"""

from tests.bench.killed import Counts, run_killed


def test_every_acknowledged_tap_is_there_exactly_once() -> None:
    counts: Counts = run_killed(clients=20, taps=8, kills=3)
    print(counts)
    assert counts.kills == 3
    assert counts.cut > 0, "No request was cut: the test shows nothing."
    assert counts.acknowledged == 20 * 8
    assert counts.rows == counts.acknowledged
    assert counts.pieces == counts.acknowledged
    assert counts.events == counts.acknowledged
