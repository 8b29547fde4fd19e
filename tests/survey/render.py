"""Photos of damage under a target card, drawn from a seed, with the exact truth beside them.

    python tests/survey/render.py --out FOLDER --seed 7 --area-mm2 600 --tilt-deg 20 --distance-mm 260
    python tests/survey/render.py --examples FOLDER

Writes photo.jpg, clicks.json (taps on the true edge, with a hand's jitter), card.json and truth.json. The scene is
two parallel planes: the card, and the lining behind it by the card's thickness. Camera: pinhole, one radial lens
term, defocus, motion, vignette, glare, noise, JPEG.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from soundedge.survey.card import SHEETS, TAG_MM
from soundedge.survey.drawing import mark_cells

CARD_PX_MM = 16
PATCH_PX_MM = 20


@dataclass(frozen=True)
class Scene:
    """One photo to draw. Angles in degrees, lengths in mm on the part, pixels in the photo."""

    seed: int = 1
    kind: str = "chip"  # chip | blister | crack
    area_mm2: float = 400.0
    shape_seed: int | None = None
    wobble: float = 1.0
    at_mm: tuple[float, float] = (0.0, 0.0)
    crack_mm: float = 30.0
    crack_width_mm: float = 0.6
    sheet: str = "small"
    print_scale: tuple[float, float] = (1.0, 1.0)
    thickness_mm: float = 0.5
    width_px: int = 4000
    height_px: int = 3000
    focal_px: float = 2900.0
    distance_mm: float = 300.0
    tilt_deg: float = 15.0
    azimuth_deg: float = 30.0
    roll_deg: float = 8.0
    aim_mm: tuple[float, float] = (0.0, 0.0)
    k1: float = 0.0
    blur_px: float = 0.8
    motion_px: float = 0.0
    noise: float = 2.0
    glare: float = 0.0
    exposure: float = 1.0
    quality: int = 90
    lining: tuple[int, int, int] = (158, 170, 172)  # blue green red
    text: str = ""
    rust: float = 0.8
    hide_tags: tuple[int, ...] = ()
    part: str = "cover"  # cover | nozzle | casing


@dataclass(frozen=True)
class Truth:
    """What is really there: outline on the lining, its area, and where both lie in the photo."""

    outline_mm: np.ndarray
    area_mm2: float
    outline_px: np.ndarray
    scene: Scene


def blob(area_mm2: float, seed: int, wobble: float = 1.0, points: int = 720) -> np.ndarray:
    """A smooth random closed outline of exactly this area, mm, about the origin."""
    rng = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, points, endpoint=False)
    radius = np.ones(points)
    for k in range(2, 8):
        radius += wobble * rng.normal(0, 0.16 / k**1.1) * np.cos(k * angle + rng.uniform(0, 2 * np.pi))
    radius = np.maximum(radius, 0.35)
    outline = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    outline -= outline.mean(axis=0)
    return outline * math.sqrt(area_mm2 / polygon_area(outline))


def polygon_area(points: np.ndarray) -> float:
    """Shoelace."""
    x, y = np.asarray(points, float).T
    return 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def camera(scene: Scene):
    """Rotation (card → camera) and position of the camera in card coordinates (x right, y up, z to the camera)."""
    tilt, azimuth, roll = (math.radians(a) for a in (scene.tilt_deg, scene.azimuth_deg, scene.roll_deg))
    away = np.array([math.sin(tilt) * math.cos(azimuth), math.sin(tilt) * math.sin(azimuth), math.cos(tilt)])
    place = np.array([*scene.aim_mm, 0.0]) + away * scene.distance_mm
    z = -away  # looking direction
    up = np.array([-math.sin(roll), math.cos(roll), 0.0])
    x = np.cross(z, up)
    x /= np.linalg.norm(x)
    y = np.cross(z, x)
    return np.stack([x, y, z]), place


def project(scene: Scene, points_mm: np.ndarray, z_mm: float = 0.0) -> np.ndarray:
    """Points of a plane at height z (card: 0, lining: −thickness) to the photo; pixel centres are whole numbers."""
    turn, place = camera(scene)
    world = np.concatenate([points_mm, np.full((len(points_mm), 1), z_mm)], axis=1) - place
    seen = world @ turn.T
    ideal = seen[:, :2] / seen[:, 2:]
    r2 = (ideal**2).sum(axis=1, keepdims=True)
    middle = ((scene.width_px - 1) / 2, (scene.height_px - 1) / 2)
    return ideal * (1 + scene.k1 * r2) * scene.focal_px + middle


def _planes(scene: Scene):
    """For every pixel: where its ray meets the card plane and the lining plane, mm, float32 maps."""
    u, v = np.meshgrid((np.arange(scene.width_px) - (scene.width_px - 1) / 2) / scene.focal_px,
                       (np.arange(scene.height_px) - (scene.height_px - 1) / 2) / scene.focal_px)
    if scene.k1:
        rd = np.hypot(u, v)
        r = rd.copy()
        for _ in range(8):
            r -= (r * (1 + scene.k1 * r * r) - rd) / (1 + 3 * scene.k1 * r * r)
        ratio = np.where(rd > 0, r / np.maximum(rd, 1e-12), 1.0)
        u, v = u * ratio, v * ratio
    turn, place = camera(scene)
    u, v, turn = u.astype(np.float32), v.astype(np.float32), turn.astype(np.float32)
    ray = [u * turn[0, i] + v * turn[1, i] + turn[2, i] for i in range(3)]
    out = []
    for z in (0.0, -scene.thickness_mm):
        along = np.float32(z - place[2]) / ray[2]
        out.append((np.float32(place[0]) + along * ray[0], np.float32(place[1]) + along * ray[1]))
    return out


def card_picture(sheet_name: str, hide: tuple[int, ...] = ()):
    """The card as grey picture and opacity at ``CARD_PX_MM``, with its upper left corner in mm."""
    sheet = SHEETS[sheet_name]
    (width, height), (mx, my) = sheet.size_mm, sheet.middle_mm
    left, top = mx - width / 2, my + height / 2
    picture = np.full((round(height * CARD_PX_MM), round(width * CARD_PX_MM)), 235, np.uint8)
    solid = np.full_like(picture, 255)

    def at(x: float, y: float) -> tuple[int, int]:
        return round((x - left) * CARD_PX_MM), round((top - y) * CARD_PX_MM)

    for number, (x, y) in sheet.tags.items():
        if number in hide:
            continue
        cells = np.array(mark_cells(number))
        size = round(TAG_MM * CARD_PX_MM)
        mark = np.where(np.kron(cells, np.ones((size // 8, size // 8), bool)), 25, 235).astype(np.uint8)
        column, row = at(x - TAG_MM / 2, y + TAG_MM / 2)
        picture[row : row + size, column : column + size] = mark
    hole = np.array([at(x, y) for x, y in sheet.open_mm], np.int32)
    if sheet_name == "corner":
        hole = np.array([at(-30, my + height / 2), at(-30, -20), at(mx + width / 2, -20), at(mx + width / 2, my + height / 2)])
    cv2.fillPoly(solid, [hole], 0)
    low = at(mx, my - height / 2)[1] - round(3.5 * CARD_PX_MM)
    cv2.line(picture, (at(mx - 50, 0)[0], low), (at(mx + 50, 0)[0], low), 25, 4)
    return picture, solid, left, top


def _noise_texture(rng, shape, scale_px: float) -> np.ndarray:
    small = rng.normal(0, 1, (max(2, int(shape[0] / scale_px) + 2), max(2, int(shape[1] / scale_px) + 2)))
    return cv2.resize(small.astype(np.float32), (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def _patch(scene: Scene, outline: np.ndarray, rng, reach: float) -> np.ndarray:
    """Lining with its damage round the window, at ``PATCH_PX_MM``, float, blue green red."""
    n = round(2 * reach * PATCH_PX_MM)
    lining = np.array(scene.lining, np.float32)
    relief = 2.5 * _noise_texture(rng, (n, n), 40) + 1.2 * _noise_texture(rng, (n, n), 7)
    picture = lining + relief[..., None]

    def px(points: np.ndarray) -> np.ndarray:
        return np.stack([(points[:, 0] + reach) * PATCH_PX_MM, (reach - points[:, 1]) * PATCH_PX_MM], axis=1) - 0.5

    fine = 4
    mask = np.zeros((n * 2, n * 2), np.uint8)  # twice as fine, then averaged: a soft, exact edge
    corners = np.round(((px(outline) + 0.5) * 2 - 0.5) * 2**fine).astype(np.int32)
    if scene.kind == "crack":
        cv2.fillPoly(mask, [corners], 255, cv2.LINE_8, fine)
    else:
        cv2.fillPoly(mask, [corners], 255, cv2.LINE_AA, fine)
    inside = cv2.resize(mask, (n, n), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    if scene.kind == "chip":
        streak = cv2.GaussianBlur(rng.normal(0, 1, (n, n)).astype(np.float32), (0, 0), 14, sigmaY=0.8)
        streak /= streak.std()
        steel = np.array([104, 104, 102], np.float32) + 11 * streak[..., None]
        rust_share = np.clip(0.9 * _noise_texture(rng, (n, n), 90) - 0.1, 0, 1)[..., None] * scene.rust
        rust = np.array([38, 66, 112], np.float32) + 9 * _noise_texture(rng, (n, n), 5)[..., None]
        ground = steel * (1 - rust_share) + rust * rust_share
        # the lining's wall throws a soft shadow on one side
        shift = np.float32([[1, 0, 9], [0, 1, 7]])
        shade = 1 - cv2.GaussianBlur(cv2.warpAffine(inside, shift, (n, n)), (0, 0), 5)
        ground = ground * (1 - 0.35 * shade[..., None] * inside[..., None])
        picture = picture * (1 - inside[..., None]) + ground * inside[..., None]
    elif scene.kind == "blister":
        depth = cv2.distanceTransform((inside > 0.5).astype(np.uint8), cv2.DIST_L2, 5) / PATCH_PX_MM
        height = np.sqrt(np.clip(depth, 0, 4))
        slope_x, slope_y = np.gradient(cv2.GaussianBlur(height, (0, 0), 12))
        picture = picture * (1 + 2.0 * (slope_x + slope_y))[..., None]
    else:
        picture = picture * (1 - inside[..., None]) + np.array([28, 30, 30], np.float32) * inside[..., None]
    return picture


def _background(scene: Scene, x: np.ndarray, y: np.ndarray, rng) -> np.ndarray:
    """The part beyond the window: lining, its edge, bolts, an invented part tag."""
    lining = np.array(scene.lining, np.float32)
    scale = 3.0
    n = round(600 * scale)
    picture = np.zeros((n, n, 3), np.float32) + lining
    picture += (3 * _noise_texture(rng, (n, n), 90) + 1.5 * _noise_texture(rng, (n, n), 12))[..., None]

    def at(px_mm: float, py_mm: float) -> tuple[int, int]:
        return round((px_mm + 300) * scale), round((300 - py_mm) * scale)

    steel, dark = (96, 98, 98), (58, 60, 62)
    if scene.part == "cover":
        cv2.circle(picture, at(-150, 60), 1400, dark, 120)
        cv2.circle(picture, at(-150, 60), 840, steel, 6)
        for i in range(12):
            angle = 2 * math.pi * i / 12 + 0.2
            bolt = at(-150 + 240 * math.cos(angle), 60 + 240 * math.sin(angle))
            cv2.circle(picture, bolt, 36, dark, -1)
            cv2.circle(picture, bolt, 24, steel, -1)
    elif scene.part == "nozzle":
        cv2.rectangle(picture, at(-300, -95), at(300, -300), dark, -1)
        cv2.rectangle(picture, at(-300, -95), at(300, -108), steel, -1)
    else:
        cv2.ellipse(picture, at(40, 190), (1120, 400), 12, 0, 360, dark, 28)
        cv2.circle(picture, at(150, -150), 180, dark, -1)
        cv2.circle(picture, at(150, -150), 156, (40, 42, 44), -1)
    if scene.text:
        plate = np.full((54, 256, 3), (150, 156, 160), np.uint8)
        cv2.rectangle(plate, (1, 1), (254, 52), dark, 2)
        cv2.putText(plate, scene.text, (20, 38), cv2.FONT_HERSHEY_SIMPLEX, 1.1, (30, 32, 34), 2, cv2.LINE_AA)
        left, top = at(-78, 92)
        picture[top : top + 54, left : left + 256] = plate
    return cv2.remap(picture, (x + 300) * scale - 0.5, (300 - y) * scale - 0.5, cv2.INTER_LINEAR,
                     borderMode=cv2.BORDER_REFLECT)


def crack_outline(scene: Scene, rng) -> tuple[np.ndarray, np.ndarray]:
    """Middle line and closed outline of a crack of the wanted length."""
    n = 40
    x = np.linspace(-0.5, 0.5, n)
    y = 0.06 * np.sin(5 * x + rng.uniform(0, 6)) + 0.015 * np.cumsum(rng.normal(0, 0.3, n))
    line = np.stack([x, y - y.mean()], axis=1)
    line *= scene.crack_mm / np.hypot(*np.diff(line, axis=0).T).sum()
    direction = np.gradient(line, axis=0)
    direction /= np.hypot(*direction.T)[:, None]
    normal = np.stack([-direction[:, 1], direction[:, 0]], axis=1) * scene.crack_width_mm / 2
    return line + scene.at_mm, np.concatenate([line + normal, (line - normal)[::-1]]) + scene.at_mm


def truth_of(scene: Scene) -> Truth:
    """The exact outline of a scene, without drawing it."""
    rng = np.random.default_rng(scene.seed)
    if scene.kind == "crack":
        line, outline = crack_outline(scene, rng)
        return Truth(outline, polygon_area(outline), project(scene, line, -scene.thickness_mm), scene)
    shape = scene.seed if scene.shape_seed is None else scene.shape_seed
    outline = blob(scene.area_mm2, shape, scene.wobble) + scene.at_mm
    return Truth(outline, scene.area_mm2, project(scene, outline, -scene.thickness_mm), scene)


def draw(scene: Scene) -> tuple[np.ndarray, Truth]:
    """The photo as uint8 blue green red, and the truth."""
    truth = truth_of(scene)
    rng = np.random.default_rng(scene.seed + 1_000_003)
    (cx, cy), (lx, ly) = _planes(scene)
    picture = _background(scene, lx, ly, rng)
    reach = float(np.abs(truth.outline_mm).max()) + 9
    patch = _patch(scene, truth.outline_mm, rng, reach)
    # the patch is finer than the photo: smear it to the photo's pixels first
    per_mm = scene.focal_px / scene.distance_mm
    patch = cv2.GaussianBlur(patch, (0, 0), max(0.35 * PATCH_PX_MM / per_mm, 0.3))
    ends = project(scene, np.array([(x, y) for x in (-reach, reach) for y in (-reach, reach)]), -scene.thickness_mm)
    (x0, y0), (x1, y1) = np.floor(ends.min(axis=0)).astype(int), np.ceil(ends.max(axis=0)).astype(int) + 1
    part = np.s_[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)]
    px, py = lx[part], ly[part]
    fine = cv2.remap(patch, (px + reach) * PATCH_PX_MM - 0.5, (reach - py) * PATCH_PX_MM - 0.5, cv2.INTER_LINEAR)
    fade = np.clip((reach - 0.5 - np.maximum(np.abs(px), np.abs(py))) / 4, 0, 1)[..., None]  # no seam in the lining
    picture[part] = picture[part] * (1 - fade) + fine * fade
    card, solid, left, top = card_picture(scene.sheet, scene.hide_tags)
    sx, sy = scene.print_scale
    smear = max(0.35 * CARD_PX_MM / per_mm, 0.3)
    u, v = (cx / sx - left) * CARD_PX_MM - 0.5, (top - cy / sy) * CARD_PX_MM - 0.5
    opaque = cv2.remap(cv2.GaussianBlur(solid, (0, 0), smear), u, v, cv2.INTER_LINEAR).astype(np.float32) / 255
    # soft shadow of the card on the lining
    shadow = cv2.remap(cv2.GaussianBlur(solid, (0, 0), 12), u - 9, v - 7, cv2.INTER_LINEAR).astype(np.float32) / 255
    picture *= (1 - 0.12 * shadow)[..., None]
    paper = cv2.remap(cv2.GaussianBlur(card, (0, 0), smear), u, v, cv2.INTER_LINEAR).astype(np.float32)
    picture = picture * (1 - opaque[..., None]) + paper[..., None] * opaque[..., None]
    picture = _lens(scene, picture, rng)
    return np.clip(picture + 0.5, 0, 255).astype(np.uint8), truth


def _lens(scene: Scene, picture: np.ndarray, rng) -> np.ndarray:
    height, width = picture.shape[:2]
    x, y = np.meshgrid(np.linspace(-1, 1, width, dtype=np.float32), np.linspace(-1, 1, height, dtype=np.float32))
    picture = picture * (1 - 0.10 * (x * x + y * y))[..., None] * scene.exposure
    if scene.glare:
        gx, gy = rng.uniform(-0.25, 0.25, 2)
        picture = picture + (160 * scene.glare * np.exp(-(((x - gx) / 0.16) ** 2 + ((y - gy) / 0.1) ** 2)))[..., None]
    if scene.blur_px:
        picture = cv2.GaussianBlur(picture, (0, 0), scene.blur_px)
    if scene.motion_px >= 1:
        n = int(scene.motion_px) | 1
        picture = cv2.filter2D(picture, -1, np.full((1, n), 1.0 / n, np.float32))
    if scene.noise:
        picture = picture + rng.standard_normal(picture.shape, np.float32) * scene.noise
    return picture


def photo_bytes(picture: np.ndarray, quality: int = 90) -> bytes:
    """As JPEG."""
    good, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert good
    return data.tobytes()


def taps(truth: Truth, count: int = 12, jitter_mm: float = 0.15, seed: int = 0, push_mm: float = 0.0) -> list[list[float]]:
    """Taps on the true edge, evenly along it, with a hand's jitter across and along; ``push_mm`` moves all outwards."""
    rng = np.random.default_rng(seed + 77)
    outline = truth.outline_mm
    step = np.hypot(*np.diff(np.concatenate([outline, outline[:1]]), axis=0).T)
    along = np.concatenate([[0], np.cumsum(step)])
    want = (np.arange(count) + rng.uniform(0, 1)) / count * along[-1]
    closed = np.concatenate([outline, outline[:1]])
    points = np.stack([np.interp(want, along, closed[:, i]) for i in (0, 1)], axis=1)
    if push_mm:
        out = points - outline.mean(axis=0)
        points = points + push_mm * out / np.hypot(*out.T)[:, None]
    points = points + rng.normal(0, jitter_mm, points.shape)
    return np.round(project(truth.scene, points, -truth.scene.thickness_mm), 1).tolist()


EXAMPLES: dict[str, dict[str, object]] = {
    "mixer-cover-chip": {
        "scene": Scene(seed=4101, area_mm2=600, shape_seed=11, text="KBW-MC-07", part="cover", tilt_deg=17,
                       azimuth_deg=40, distance_mm=225, roll_deg=6, k1=-0.03, glare=0.25), "stage": "as found"},
    "dosing-nozzle-chip": {
        "scene": Scene(seed=4102, area_mm2=350, shape_seed=23, text="KBW-DN-12", part="nozzle", tilt_deg=11,
                       azimuth_deg=200, distance_mm=215, roll_deg=-9, k1=0.02, lining=(176, 184, 190)),
        "stage": "as found"},
    "pump-casing-as-found": {
        "scene": Scene(seed=4103, area_mm2=700, shape_seed=31, text="KBW-PC-03", part="casing", tilt_deg=21,
                       azimuth_deg=120, distance_mm=235, roll_deg=12, k1=-0.02, lining=(150, 166, 160)),
        "stage": "as found"},
    "pump-casing-as-prepared": {
        "scene": Scene(seed=4104, area_mm2=1100, shape_seed=31, wobble=0.8, rust=0.0, text="KBW-PC-03",
                       part="casing", tilt_deg=14, azimuth_deg=100, distance_mm=240, roll_deg=4, k1=-0.02,
                       lining=(150, 166, 160)),
        "stage": "as prepared"},
    "cover-450": {
        "scene": Scene(seed=4105, area_mm2=450, shape_seed=47, text="KBW-MC-19", part="cover", tilt_deg=9,
                       azimuth_deg=300, distance_mm=220, roll_deg=-4, k1=0.01, lining=(166, 172, 168)),
        "stage": "as found"},
}


def example(name: str) -> tuple[bytes, dict, dict, dict]:
    """Photo bytes, clicks, card and truth of one of the shipped examples."""
    scene: Scene = EXAMPLES[name]["scene"]  # type: ignore[assignment]
    scene = replace(scene, width_px=2400, height_px=1800, focal_px=1750.0, noise=1.2, quality=84)
    return written(scene, clicks=16)


def written(scene: Scene, clicks: int = 12) -> tuple[bytes, dict, dict, dict]:
    """Photo bytes, clicks.json, card.json and truth.json of a scene."""
    picture, truth = draw(scene)
    outline = truth.outline_px if scene.kind == "crack" else np.array(taps(truth, clicks, seed=scene.seed))
    outline = outline[:: max(1, len(outline) // 12)] if scene.kind == "crack" else outline
    click = {"kind": scene.kind, "outline_px": np.round(outline, 1).tolist(), "holes_px": [], "confirmed": True}
    if scene.kind != "crack":
        click["joined"] = "curve"
    card = {"bar_x_mm": round(100 * scene.print_scale[0], 2), "bar_y_mm": round(100 * scene.print_scale[1], 2),
            "thickness_mm": scene.thickness_mm, "checked_on": "2031-03-02", "serial": "KBW-CARD-2"}
    about = {"area_mm2": truth.area_mm2, "tilt_deg": scene.tilt_deg, "seed": scene.seed,
             "outline_mm": np.round(truth.outline_mm[::6], 4).tolist()}
    return photo_bytes(picture, scene.quality), click, card, about


def _keep(folder: Path, photo: bytes, clicks: dict, card: dict, truth: dict) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "photo.jpg").write_bytes(photo)
    for name, content in (("clicks", clicks), ("card", card), ("truth", truth)):
        (folder / f"{name}.json").write_text(json.dumps(content) + "\n", encoding="utf-8")
    print(f"{folder}: {len(photo) / 1000:.0f} kB, {truth['area_mm2']:g} mm2")


def main(arguments: list[str]) -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--examples", type=Path, help="write the shipped example photos below this folder")
    parser.add_argument("--out", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", choices=("chip", "blister", "crack"), default="chip")
    for flag, default in (("area-mm2", 400.0), ("tilt-deg", 15.0), ("azimuth-deg", 30.0), ("distance-mm", 300.0),
                          ("k1", 0.0), ("blur-px", 0.8), ("noise", 2.0), ("glare", 0.0), ("thickness-mm", 0.5)):
        parser.add_argument(f"--{flag}", type=float, default=default)
    parser.add_argument("--quality", type=int, default=90)
    parser.add_argument("--clicks", type=int, default=12)
    given = parser.parse_args(arguments)
    if given.examples:
        for name in EXAMPLES:
            _keep(given.examples / name, *example(name))
    if given.out:
        scene = Scene(**{key: getattr(given, key) for key in (
            "seed", "kind", "area_mm2", "tilt_deg", "azimuth_deg", "distance_mm", "k1", "blur_px", "noise", "glare",
            "thickness_mm", "quality")})
        _keep(given.out, *written(scene, given.clicks))


if __name__ == "__main__":
    main(sys.argv[1:])
