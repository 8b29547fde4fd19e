"""One job from the photo to a released, sealed certificate that a stranger can check, by single entries of three people."""

import pytest

from soundedge.services.desk import issue
from soundedge.services.evidence.verify import verify_file

from . import bench
from .bench import NUMBER, at, play, standing

pytestmark = pytest.mark.store_contract


def test_a_job_from_photo_to_certificate(tmp_path, monkeypatch):
    data = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(data)

    answers = play(data)

    assert [a["outcome"] for a in answers] == ["stored"] * len(answers)
    held = standing(data)
    assert held.outcome.verdict == "released" and held.next_step == "" and held.gaps == []
    sealed = issue.certificate(data, NUMBER, now=at("12:40"))
    (tmp_path / "certificate.pdf").write_bytes(sealed.pdf)
    (tmp_path / "certificate.proof").write_bytes(sealed.files["certificate.proof"])
    told = verify_file(tmp_path / "certificate.pdf")
    assert told["verdict"] == "released" and told["job"] == NUMBER
