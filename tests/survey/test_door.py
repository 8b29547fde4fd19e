"""The door: what a request may hold, what the service reads, and how the commands end."""

import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Contradiction, Missing, NotEnough, OutOfRange, Refused, Unknown, Unreadable
from soundedge.basis.question import read, schemas
from soundedge.cli.main import main
from soundedge.services.ask import ask
from soundedge.services.survey import outline_picture, survey
from soundedge.survey.ask import FORMS
from soundedge.survey.given import SurveyRequest
from soundedge.survey.picture import picture_jpeg

from ..tries import tries
from . import render
from .scenes import CARD, outline_of, photo, scene

PLAIN = scene()
GOOD = {"photo": "p.jpg", "outline": {"outline_px": [[1, 1], [9, 1], [5, 8]]}, "card": CARD}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder as a technician leaves it: photo, taps, card."""
    place = tmp_path_factory.mktemp("spot")
    data, truth = photo(PLAIN)
    (place / "photo.jpg").write_bytes(data)
    clicks = {"kind": "chip", "outline_px": outline_of(truth), "holes_px": [], "confirmed": True}
    (place / "clicks.json").write_text(json.dumps(clicks))
    (place / "card.json").write_text(json.dumps(CARD))
    return place


# --- the request ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("change, kind", [
    ({"photo": ""}, Missing), ({"photo": 7}, Unreadable), ({"outlin": {}}, Unknown),
    ({"outline": {"outline_px": [[1, 1], [2, 2]]}}, NotEnough),
    ({"outline": {"outline_px": [[1, 1], [1, 1], [1, 1], [2, 2]]}}, NotEnough),
    ({"outline": {"outline_px": "round it"}}, Unreadable),
    ({"outline": {"outline_px": [[1, 1], [2, float("nan")], [3, 3]]}}, OutOfRange),
    ({"outline": {"outline_px": [[1, 1], [2], [3, 3]]}}, Unreadable),
    ({"outline": {"outline_px": [[0, 0]] * 6000}}, OutOfRange),
    ({"outline": {"outline_px": [[1, 1], [9, 1], [5, 8]], "kind": "dent"}}, Unknown),
    ({"outline": {"outline_px": [[1, 1], [9, 1], [5, 8]], "confirmed": "yes"}}, Unreadable),
    ({"outline": {"outline_px": [[1, 1], [9, 1], [5, 8]], "band_mm": 5.0}}, Contradiction),
    ({"outline": {"outline_px": [[1, 1], [9, 1], [5, 8]], "holes_px": [[[1, 1], [2, 2]]]}}, NotEnough),
    ({"card": {"bar_x_mm": 10.0}}, OutOfRange), ({"card": {"thickness_mm": -0.1}}, OutOfRange),
    ({"card": {"checked_on": "last week"}}, Unreadable), ({"card": {"bar_x_mm": "100"}}, Unreadable),
    ({"limits": {"bare_area_mm2_max": 0}}, OutOfRange), ({"limits": {"length_mm_max": 5}}, Unknown),
    ({"lining_mm": 900.0}, OutOfRange), ({"radius_mm": 0}, OutOfRange),
    ({"others": [{"outline": {"kind": "crack", "outline_px": [[1, 1], [9, 1]]}}]}, Contradiction),
    ({"others": [{"outline": GOOD["outline"]}] * 6}, OutOfRange),
    ({"outline": {"outline_px": [[1, 1], [9, 1], [5, 8]], "edge": "bottom"}}, Missing),
])
def test_a_bad_field_is_named(change, kind):
    with pytest.raises(kind) as caught:
        read(SurveyRequest, GOOD | change)

    assert caught.value.field.split(".")[0].split("[")[0] in (next(iter(change)), "")  # "" when two fields disagree
    assert caught.value.message.endswith(".")


def test_numbers_from_a_record_stand_as_decimal_strings():
    kept = {"photo": "p.jpg", "outline": {"outline_px": [["1", "1"], ["9.5", "1"], ["5", "8"]]}, "card": {"bar_x_mm": "99.8"}}

    asked = read(SurveyRequest, kept, from_record=True)

    assert asked.outline.outline_px[1] == (9.5, 1.0) and asked.card.bar_x_mm == 99.8
    with pytest.raises(BenchError):
        read(SurveyRequest, kept)


anything = st.recursive(
    st.none() | st.booleans() | st.integers(-10, 10**6) | st.floats(allow_nan=True) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(
        ["outline_px", "kind", "bar_x_mm", "thickness_mm", "holes_px", "confirmed", "x"]), inner, max_size=4), max_leaves=12)


@tries(300)
@given(st.sampled_from([*SurveyRequest.model_fields]), anything)
def test_no_value_of_any_field_ends_in_a_traceback(key, value):
    try:
        read(SurveyRequest, GOOD | {key: value})
    except BenchError as error:
        assert error.message


def test_both_schemas_are_valid():
    import jsonschema

    drawn = schemas(FORMS)

    for side in drawn.values():
        jsonschema.Draft202012Validator.check_schema(side)


# --- the service ------------------------------------------------------------------------------------------------------


def test_photo_taps_and_card_are_read_from_files(folder):
    by_name = survey({"photo": "photo.jpg", "outline": "clicks.json", "card": "card.json"}, base=folder)
    by_value = ask("survey", {"photo": str(folder / "photo.jpg"), "outline": json.loads((folder / "clicks.json").read_text()),
                              "card": CARD})

    assert by_name["area_mm2"] == by_value["area_mm2"] == pytest.approx(400, rel=0.003)
    assert len(by_name["photo_sha256"]) == 64


@pytest.mark.parametrize("change, words", [
    ({"photo": "none.jpg"}, "no file"), ({"photo": "."}, "not a file"), ({"photo": "/dev/zero"}, "not a file"),
    ({"outline": "none.json"}, "no file"), ({"card": "photo.jpg"}, "UTF-8"), ({"photo": "photo.jpg\0"}, ""),
    ({"outline": "broken.json"}, "broken"), ({"outline": 5}, ""), ({"photo": "a" * 5000}, ""),
])
def test_a_file_that_cannot_be_used_is_named(folder, change, words):
    (folder / "broken.json").write_text('{"outline_px": [[1, 2], "broken')

    with pytest.raises(BenchError) as caught:
        survey({"photo": "photo.jpg", "outline": "clicks.json", "card": "card.json"} | change, base=folder)

    assert words in caught.value.message or words == "broken"


def test_find_card_reports_pose_and_scale_only(folder):
    found = survey({"photo": "photo.jpg", "find_card": True}, base=folder)

    assert found["sheet"] == "small" and found["tags_found"] == 16
    assert found["tilt_deg"] == pytest.approx(12, abs=0.5) and found["px_per_mm"] > 5
    assert "area_mm2" not in found and len(found["window_px"]) == 4


def test_find_card_gives_the_linings_plane_for_a_grid_over_the_photo(folder):
    """Against the renderer's own camera: pixels of known places on the lining go back to those places, up to the turn and
    shift of the card, so distances are compared; and the lens is said to be left out."""
    import numpy as np

    found = survey({"photo": "photo.jpg", "find_card": True, "card": {"thickness_mm": PLAIN.thickness_mm}}, base=folder)
    h = np.array(found["plane_px_to_mm"]).reshape(3, 3)
    places = np.array([(x, y) for x in (-25.0, 0.0, 25.0) for y in (-25.0, 0.0, 25.0)])
    seen = render.project(PLAIN, places, -PLAIN.thickness_mm)
    x, y, w = h @ np.c_[seen, np.ones(len(seen))].T
    back = np.c_[x / w, y / w]

    assert found["plane_px_to_mm"][8] == pytest.approx(1) and 0 <= found["plane_off_mm"] < 0.02
    assert np.abs(back - places).max() < 0.1
    assert np.hypot(*(back[0] - back[-1])) == pytest.approx(50 * 2**0.5, rel=1e-3)


def test_without_a_card_there_is_no_plane_and_a_strong_lens_is_said(tmp_path):
    import cv2
    import numpy as np

    (tmp_path / "bare.jpg").write_bytes(cv2.imencode(".jpg", np.full((800, 900, 3), 150, np.uint8))[1].tobytes())
    (tmp_path / "lens.jpg").write_bytes(photo(scene(k1=-0.08))[0])
    bare, lens = (survey({"photo": name, "find_card": True}, base=tmp_path) for name in ("bare.jpg", "lens.jpg"))

    assert bare["plane_px_to_mm"] is None and bare["plane_off_mm"] is None and bare["refused"]
    assert 0.01 < lens["plane_off_mm"] < 1


# --- the picture ------------------------------------------------------------------------------------------------------


def test_the_picture_for_the_page_carries_no_notes_and_is_bounded(folder):
    from PIL import Image

    data, truth = photo(PLAIN)
    notes = Image.Exif()
    notes[0x010F] = "somebody's phone"
    with_notes = io.BytesIO()
    Image.open(io.BytesIO(data)).save(with_notes, "JPEG", quality=92, exif=notes)
    asked = read(SurveyRequest, {"photo": "p", "outline": {"outline_px": outline_of(truth), "confirmed": True}, "card": CARD})

    drawn = picture_jpeg(asked, {"p": with_notes.getvalue()}, longest_px=900)
    picture = Image.open(io.BytesIO(drawn))

    assert picture.format == "JPEG" and max(picture.size) == 900
    assert len(drawn) <= 500_000 and b"somebody" not in drawn and not picture.getexif() and b"Exif" not in drawn
    assert drawn == picture_jpeg(asked, {"p": with_notes.getvalue()}, longest_px=900)
    # the outline is there: black between white on its place
    assert drawn != picture_jpeg(asked.model_copy(update={"outline": asked.outline.model_copy(
        update={"outline_px": asked.outline.outline_px[:40]})}), {"p": with_notes.getvalue()}, longest_px=900)


def test_the_suggested_edge_is_drawn_beside_the_taps(folder):
    request = {"photo": "photo.jpg", "outline": "clicks.json", "card": "card.json"}

    assert outline_picture(request, base=folder) != outline_picture(request | {"suggest": True}, base=folder)


def test_a_box_and_taps_give_a_draft_that_nobody_has_confirmed(folder):
    truth = photo(PLAIN)[1]
    low, high = truth.outline_px.min(axis=0) - 20, truth.outline_px.max(axis=0) + 20
    asked = {"photo": "photo.jpg", "box_px": [low.tolist(), high.tolist()], "taps_px": [truth.outline_px.mean(axis=0).tolist()]}

    found = survey(asked, base=folder)

    assert found["confirmed"] is False and found["refused"] == []
    assert render.polygon_area(found["outline_px"]) == pytest.approx(render.polygon_area(truth.outline_px), rel=0.3)
    with pytest.raises(NotEnough):
        survey(asked | {"box_px": [[1, 1]]}, base=folder)
    with pytest.raises(NotEnough, match="Tap inside"):
        survey(asked | {"taps_px": [[5, 5]]}, base=folder)


@pytest.mark.parametrize("field, box, tap", [
    ("box_px", [[-5000, -5000], [9000, 9000]], [800, 600]), ("box_px", [[40000, 40000], [49000, 49000]], [800, 600]),
    ("taps_px", [[700, 500], [900, 700]], [49000, 600])])
def test_a_box_or_tap_off_the_photo_is_refused_by_name(folder, field, box, tap):
    with pytest.raises(OutOfRange, match="lies off the photo") as left:
        survey({"photo": "photo.jpg", "box_px": box, "taps_px": [tap]}, base=folder)

    assert left.value.field == field


def test_find_card_looks_at_the_bars_it_is_given(folder):
    wrong = survey({"photo": "photo.jpg", "find_card": True, "card": {"bar_x_mm": 50, "bar_y_mm": 100}}, base=folder)

    assert [reason["check"] for reason in wrong["refused"]] == ["print_check"]


def test_no_picture_of_a_refused_photo(folder):
    with pytest.raises(Refused):
        outline_picture({"photo": "photo.jpg", "outline": "clicks.json", "card": {}}, base=folder)
    with pytest.raises(OutOfRange):
        outline_picture({"photo": "photo.jpg", "outline": "clicks.json", "card": "card.json"}, base=folder, longest_px=10**6)


# --- the commands -----------------------------------------------------------------------------------------------------


def run(capsys, *arguments) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main([str(a) for a in arguments])
    out = capsys.readouterr()
    return left.value.code, out.out, out.err


def test_survey_prints_area_and_verdict(folder, capsys):
    code, out, _ = run(capsys, "survey", folder / "photo.jpg", "--limit", "1in2", "--guarded", "0.95")

    assert code == 0
    assert "conforms" in out and "± " in out and "mm² (k = 2)" in out


def test_survey_takes_its_files_by_name(folder, capsys):
    code, out, _ = run(capsys, "survey", folder / "photo.jpg", "--outline", folder / "clicks.json", "--card",
                       folder / "card.json", "--json")

    assert code == 0 and json.loads(out)["area_mm2"] == pytest.approx(400, rel=0.003)


def test_a_refused_photo_ends_with_three_and_no_area(folder, capsys, tmp_path):
    (tmp_path / "card.json").write_text("{}")

    code, out, err = run(capsys, "survey", folder / "photo.jpg", "--card", tmp_path / "card.json")
    json_code, text, _ = run(capsys, "survey", folder / "photo.jpg", "--card", tmp_path / "card.json", "--json")

    assert code == json_code == 3
    assert "bar in x and y was not measured" in out and "Not measured" in err
    assert "  area" not in out
    answer = json.loads(text)
    assert answer["area_mm2"] is None and answer["refused"][0]["check"] == "print_check"


def test_an_unreadable_photo_ends_with_two(folder, capsys, tmp_path):
    (tmp_path / "photo.jpg").write_bytes(photo(PLAIN)[0][:5000])

    code, out, _ = run(capsys, "survey", tmp_path / "photo.jpg", "--outline", folder / "clicks.json", "--json")

    assert code == 2 and json.loads(out)["error"]["kind"] == "unreadable"


def test_a_folder_becomes_a_table_and_one_bad_photo_does_not_stop_it(folder, capsys, tmp_path):
    for name in ("a", "c"):
        (tmp_path / f"{name}.jpg").write_bytes((folder / "photo.jpg").read_bytes())
        (tmp_path / f"{name}.clicks.json").write_bytes((folder / "clicks.json").read_bytes())
    (tmp_path / "b.jpg").write_bytes(b"not a photo")
    (tmp_path / "b.clicks.json").write_bytes((folder / "clicks.json").read_bytes())
    (tmp_path / "card.json").write_bytes((folder / "card.json").read_bytes())

    code, out, err = run(capsys, "survey", tmp_path, "--csv", "--limit", "900mm2")
    lines = out.splitlines()

    assert code == 2 and len(lines) == 4
    assert "conforms" in lines[1] and "unreadable" in lines[2] and "conforms" in lines[3]
    assert "2 of 3" in err
    json_code, text, _ = run(capsys, "survey", tmp_path, "--json")
    answers = json.loads(text)
    assert json_code == 2
    assert [("area_mm2" in a, "error" in a) for a in answers] == [(True, False), (False, True), (True, False)]


def test_taps_of_one_photo_are_not_used_for_another(folder, capsys, tmp_path):
    """Two photos and one clicks.json: whose taps are they? Nobody's."""
    for name in ("a.jpg", "b.jpg"):
        (tmp_path / name).write_bytes((folder / "photo.jpg").read_bytes())
    (tmp_path / "clicks.json").write_bytes((folder / "clicks.json").read_bytes())

    code, out, _ = run(capsys, "survey", tmp_path, "--csv")
    refused, _, _ = run(capsys, "survey", tmp_path / "a.jpg", tmp_path / "b.jpg", "--outline", tmp_path / "clicks.json")

    assert code == 2 and out.count("There are no taps") == 2 and refused == 2


def test_find_card_from_the_terminal(folder, capsys):
    code, out, _ = run(capsys, "survey", folder / "photo.jpg", "--find-card")

    assert code == 0 and "small, 16 marks" in out and "area" not in out


def test_a_suggestion_is_written_unconfirmed(folder, capsys, tmp_path):
    code, _, err = run(capsys, "survey", folder / "photo.jpg", "--suggest", tmp_path / "edge.json",
                       "--picture", tmp_path / "w.jpg")
    edge = json.loads((tmp_path / "edge.json").read_text())

    assert code == 0 and edge["confirmed"] is False and len(edge["outline_px"]) > 50
    assert "suggested edge" in err and (tmp_path / "w.jpg").read_bytes()[:2] == b"\xff\xd8"
    again = survey({"photo": "photo.jpg", "outline": edge, "card": "card.json"}, base=folder)
    assert again["area_mm2"] == pytest.approx(400, rel=0.02)


def test_one_place_on_two_photos_is_combined(folder, capsys, tmp_path):
    one = scene(tilt_deg=20.0, azimuth_deg=180.0, seed=61)
    for name, taken in (("east", scene(tilt_deg=20.0, azimuth_deg=0.0, seed=61)), ("west", one)):
        data, truth = photo(taken)
        (tmp_path / f"{name}.jpg").write_bytes(data)
        (tmp_path / f"{name}.clicks.json").write_text(json.dumps({"outline_px": outline_of(truth), "confirmed": True}))
    (tmp_path / "card.json").write_text(json.dumps(CARD))

    code, out, _ = run(capsys, "survey", tmp_path, "--same-place", "--radius", "600mm", "--json")

    assert code == 0 and len(json.loads(out)["outlines"]) == 2


@pytest.mark.parametrize("ending, start", [("svg", b"<svg"), ("pdf", b"%PDF")])
def test_card_writes_the_page(capsys, tmp_path, ending, start):
    code, out, _ = run(capsys, "card", "--out", tmp_path / f"card.{ending}", "--sheet", "large", "--serial", "KBW-9")

    assert code == 0 and (tmp_path / f"card.{ending}").read_bytes().startswith(start) and "100 %" in out


def test_card_refuses_another_ending_and_an_empty_command(capsys, tmp_path):
    assert run(capsys, "card", "--out", tmp_path / "card.doc")[0] == 2
    assert run(capsys, "card")[0] == 2
    assert not list(tmp_path.iterdir())


# The chips of the example jobs were drawn with these areas (tests/survey/render.py, EXAMPLES).
DRAWN_MM2 = {("mixer-cover", "as-found"): 600, ("dosing-nozzle", "as-found"): 350, ("pump-casing", "as-found"): 700,
             ("pump-casing", "as-prepared"): 1100, ("thin-edge-cover", "as-found"): 450}


@pytest.mark.parametrize("job, stem", sorted(DRAWN_MM2))
def test_the_example_photos_measure_what_was_drawn(job, stem):
    """Within the expanded uncertainty (k = 2) of the area the renderer drew."""
    from pathlib import Path

    place = Path(__file__).parents[2] / "examples" / job
    answer = survey({"photo": f"{stem}.jpg", "outline": f"{stem}.clicks.json", "card": "card.json"}, base=place)

    assert answer["refused"] == []
    assert abs(answer["area_mm2"] - DRAWN_MM2[job, stem]) <= 2 * answer["u_area_mm2"]
    assert (place / f"{stem}.jpg").stat().st_size < 600_000
