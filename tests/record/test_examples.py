"""The example that is released: does its record keep the rules for a stranger, and does no changed byte of it pass?"""

import random
from pathlib import Path

import pytest

from soundedge.basis.errors import RecordBroken
from soundedge.record.entry import START
from soundedge.record.replay import insist
from soundedge.record.verify import verify
from soundedge.services.folder.job import run_job

MIXER_COVER = Path(__file__).parents[2] / "examples" / "mixer-cover"


@pytest.mark.slow
def test_the_released_example_keeps_every_rule_and_every_changed_byte_is_named(tmp_path):
    run_job(MIXER_COVER, tmp_path)
    raw = (tmp_path / "record.json").read_bytes()
    held = verify(raw)
    entries = list(held.entries())

    assert insist(held).released
    dice, at = random.Random(6), len(START)
    for number, entry in enumerate(entries, 1):
        for _ in range(8):
            spot = at + dice.randrange(len(entry.raw))
            bad = bytearray(raw)
            bad[spot] ^= dice.randrange(1, 256)
            with pytest.raises(RecordBroken) as caught:
                verify(bytes(bad))
            assert caught.value.field == f"event {number}"
        at += len(entry.raw) + 1
