"""A breach at the desk: who may enter its closed report, of which entries it is offered, and what it lifts."""

import pytest

from soundedge.services.desk import enter
from soundedge.services.desk.breaches import to_report
from soundedge.services.desk.state import state

from .bench import INES, NUMBER, ODILE, a_shop, at, opened, play


def close(data, actor, of, n, clock="13:30"):
    """One closed report, entered at the desk."""
    body = {"of": of, "report": f"KBW-BR-{n}", "because": "Site safety asked the crew.", "closed_by": "S. Berg, site safety"}
    said = {"id": f"{actor.device}-b2c3d4-{n}", "kind": "breach.closed", "at": at(clock).isoformat(), "body": body}
    return enter.enter(data, actor, NUMBER, [said], now=at(clock))[0]


@pytest.fixture
def data(tmp_path, monkeypatch):
    """The cover's day without its permit, up to the release."""
    data = a_shop(tmp_path, monkeypatch)
    opened(data)
    play(data, skip=lambda kind, body: kind in ("permit.issued", "release.signed"))
    return data


def test_every_heat_without_a_permit_is_offered_and_waits_for_its_own_report(data):
    held = state(data, NUMBER).outcome
    offered = to_report(held)
    assert "permit" in [block.rule for block in held.blocked_by]
    assert sum("Layer" in said for said in offered.values()) == 5

    for n, entry in enumerate(offered, 1):
        assert close(data, ODILE, entry, n)["outcome"] == "stored"
    after = state(data, NUMBER).outcome
    assert "permit" not in [block.rule for block in after.blocked_by]
    assert to_report(after) == {}
    assert any("KBW-BR-1, closed by S. Berg" in said for said in after.steps["hazards"].cautions)


def test_the_technician_whose_heat_it_was_does_not_close_it(data):
    entry = next(iter(to_report(state(data, NUMBER).outcome)))

    assert close(data, INES, entry, 1)["outcome"] == "refused"
    assert "permit" in [block.rule for block in state(data, NUMBER).outcome.blocked_by]
