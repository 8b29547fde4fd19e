"""Is a job on which nothing was measured yet shown without one loud sign? Only what was measured and is bad is loud."""

from __future__ import annotations

import re

import pytest

from . import one_job

LOUD = re.compile(r'class="(?:[^"]* )?(?:loud|said|shape-square)(?: [^"]*)?"')


@pytest.mark.parametrize("step", ["", "survey/", "disposition/", "hazards/", "conditions/", "buildup/", "heat/", "thickness/",
                                  "instruments/", "holiday/", "hold_points/", "release/"])
def test_a_fresh_job_has_nothing_loud(shop, step):
    job = one_job.opened(shop, "KBW-2036-090")
    page = shop.client("technician").get(f"/jobs/{job}/{step}").content.decode()
    shown = re.sub(r"<template.*?</template>|<[^>]* hidden[ >].*?>", "", page, flags=re.S)
    assert not LOUD.findall(shown), [shown[one.start() - 80:one.end() + 120] for one in LOUD.finditer(shown)]


def test_what_was_measured_and_is_bad_is_loud(shop):
    from soundedge.services.desk import enter

    from .installation import now

    job = one_job.opened(shop, "KBW-2036-091")
    body = {"air_c": 16, "rh_pct": 98, "steel_c": 14.5, "instrument": "H2"}
    entry = {"id": "air-1", "kind": "air.read", "at": now().isoformat(), "body": body}
    (answer,) = enter.enter(shop.data, shop.actor("technician"), job, [entry], now=now())
    assert answer["outcome"] == "stored"
    page = shop.client("technician").get(f"/jobs/{job}/conditions/").content.decode()
    assert LOUD.search(page)
