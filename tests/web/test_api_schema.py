"""The API keeps to its own description: 2,000 requests (for a release) made from it, half wrong on purpose, by every role.

No answer is a fault of the bench (5xx), none has a status or a type that the description does not name.
Requests are made by schemathesis from /api/v1/openapi.json, always the same ones.
"""

import os

import pytest

from ..tries import share

CASES = share(2000)
ROLES = ("technician", "inspector", "engineer", "manager", "auditor")


@pytest.fixture(scope="module")
def bench(installation):
    """The description, and a job with a photo to name."""
    import schemathesis

    from soundedge.services.desk import photos
    from soundedge.web.api import live
    from soundedge.web.wsgi import application

    from .installation import new_shop
    from .one_job import opened
    from .pictures import jpeg

    os.environ["SOUNDEDGE_KEYS"] = str(installation / "keys")
    shop = new_shop()
    job = opened(shop, "KBW-2036-700")
    photo = photos.keep(shop.data, jpeg(seed=700))["sha256"]
    sessions = {}
    for role in ROLES:
        client = shop.client(role)
        token = client.get("/api/v1/me").json()["csrf"]
        cookies = "; ".join(f"{name}={morsel.value}" for name, morsel in client.cookies.items())
        sessions[role] = {"HTTP_COOKIE": cookies, "HTTP_X_CSRFTOKEN": token, "HTTP_HOST": "bench.local"}

    def as_role(environ, start_response):
        return application(environ | sessions[environ.get("HTTP_X_ROLE", "auditor")], start_response)

    kept, live.STREAM_S = live.STREAM_S, 0.0
    yield schemathesis.openapi.from_wsgi("/api/v1/openapi.json", as_role), job, photo
    live.STREAM_S = kept


@pytest.mark.slow
def test_thousands_of_requests_made_from_the_description_get_answers_that_it_names(bench, in_installation):
    from collections import Counter

    from hypothesis import HealthCheck, given, settings
    from hypothesis import strategies as st
    from hypothesis.errors import Unsatisfiable
    from schemathesis import GenerationMode
    from schemathesis.checks import not_a_server_error
    from schemathesis.specs.openapi.checks import content_type_conformance, status_code_conformance

    schema, job, photo = bench
    operations = [found.ok() for found in schema.get_all_operations()]
    seen = Counter()
    for operation in operations:
        for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE):
            cases = operation.as_strategy(generation_mode=mode)
            each = share(40 if operation.method == "post" else 12)

            @settings(max_examples=each, derandomize=True, deadline=None, database=None,
                      suppress_health_check=list(HealthCheck), phases=_phases())
            @given(case=cases, role=st.sampled_from(ROLES), known=st.booleans())
            def one(case, role, known):
                if known:  # names that are there, so that more than the address is looked at
                    for name, value in (("job", job), ("sha256", photo)):
                        if name in case.path_parameters:
                            case.path_parameters[name] = value
                response = case.call(headers={"X-Role": role})
                seen[response.status_code] += 1
                case.validate_response(
                    response, checks=[not_a_server_error, content_type_conformance, status_code_conformance]
                )

            if mode is GenerationMode.POSITIVE or _can_be_wrong(operation):
                one()
            elif CASES >= 2000:  # to look for what cannot be wrong takes long
                with pytest.raises(Unsatisfiable):
                    one()
    assert sum(seen.values()) >= CASES, seen
    assert {200, 403, 422} <= set(seen) and not any(status >= 500 for status in seen), seen


def _can_be_wrong(operation):
    """Whether anything that is sent has a form: not any text in the address, not any bytes."""
    raw = operation.definition.raw
    sent = [one["schema"] for one in raw.get("parameters", ())]
    sent += [one["schema"] for one in raw.get("requestBody", {}).get("content", {}).values()]
    return any(set(one) - {"title", "description"} != {"type"} or one["type"] != "string" for one in sent
               if one.get("format") != "binary")


def _phases():
    from hypothesis import Phase

    return [Phase.generate]
