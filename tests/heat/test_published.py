"""The closed solutions against their numbers, and the march against the closed solutions.

Numbers computed to 25 digits elsewhere unless a print is named; tolerances are those the room was asked to keep.
"""

import math

import numpy as np
import pytest

from soundedge.heat.march import Program, march

from . import analytic
from .set_up import FILM, STEEL, filmed, flux, plate, values_of

pytestmark = pytest.mark.usefixtures("by_numpy")

ALPHA = STEEL[0] / (STEEL[1] * STEEL[2])
END = {"longest_s": 4.0, "share": 0.02}


def test_semi_infinite_body_gives_the_published_389_5_kelvin():
    got = analytic.semi_infinite_convection(3e-3, 100, start=393, fluid=355, h=50, k=10, alpha=4.029e-6)

    assert got == pytest.approx(389.542824, abs=1e-3)  # a published worked example prints 389.5 K


@pytest.mark.parametrize(("x_mm", "t", "expected"), [(0, 60, 37.625405), (0, 600, 72.409571), (20, 600, 62.763563)])
def test_thick_steel_under_hot_air_warms_like_a_half_space(x_mm, t, expected):
    closed = analytic.semi_infinite_convection(
        max(x_mm, 1e-9) * 1e-3, t, start=20, fluid=500, h=60, k=50, alpha=ALPHA)
    section = plate(mm=400, slices=160)
    run = march(section, values_of(section, h=60, air=500), Program(end_s=t, snaps_s=(t,), **END))
    cells = run.snaps[0][1][:160, 0]
    depths = 400 - (np.arange(160) + 0.5) * 2.5
    seen = run.bond[-1, 0] if x_mm == 0 else np.interp(x_mm, depths[::-1], cells[::-1])

    assert closed == pytest.approx(expected, abs=1e-5)
    assert seen == pytest.approx(expected, abs=0.1)


def test_depth_of_frost_after_sixty_days():
    depth = analytic.freezing_depth(60 * 86400, start=20, surface=-15, level=0, alpha=0.138e-6)

    assert depth == pytest.approx(0.676962, abs=1e-6)  # Incropera prints 0.68 m (memory)


def test_lumped_cooling():
    tau = analytic.lumped_tau_s(plate_mm=20, density_kg_m3=7850, heat_capacity_j_kgk=490, loss_w_m2k=20)

    assert tau == pytest.approx(3846.5)
    assert 20 + 150 * math.exp(-3600 / tau) == pytest.approx(78.833977, abs=1e-5)
    assert analytic.lumped_cool_s(170, 40, 20, tau) == pytest.approx(7750.3245, abs=1e-3)


def test_a_plate_losing_by_ten_on_both_faces_cools_like_a_lump():
    section = plate(mm=20, slices=4)
    run = march(section, values_of(section, h=10, air=20, start=170, h_back=10), Program(end_s=9000, **END))

    cooled = float(np.interp(-40, -run.bond[:, 0], run.t))
    assert cooled == pytest.approx(7750.32, rel=2e-3)  # the plate itself resists a little: Biot 0.004


def test_wall_at_minus_twenty_in_a_furnace_like_incropera():
    steel = (63.9, 7832.0, 434.0)
    shared = {"thickness": 0.04, "h": 500, "k": 63.9, "alpha": 63.9 / (7832 * 434), "start": -20, "fluid": 60}
    inner, outer = (analytic.plane_wall(z, 480, **shared) for z in (1.0, 0.0))  # hot oil inside, insulated outside
    section = plate(mm=40, slices=24)
    run = march(section, values_of(section, h=500, air=60, start=-20, steel=steel), Program(end_s=480, **END))

    assert (outer, inner) == pytest.approx((43.016241, 45.362505), abs=1e-5)  # the book: 42.9 and 45.2 °C, one term (memory)
    assert run.bond[-1, 0] == pytest.approx(inner, abs=0.05)
    assert run.back[-1, 0] == pytest.approx(outer, abs=0.05)


def test_insulated_plate_under_hot_air_after_ten_minutes():
    shared = {"thickness": 0.02, "h": 60, "k": 50, "alpha": ALPHA, "start": 20, "fluid": 500}
    section = plate(mm=20, slices=6)
    run = march(section, values_of(section, h=60, air=500), Program(end_s=600))

    assert analytic.plane_wall(1.0, 600, **shared) == pytest.approx(200.667624, abs=1e-5)
    assert analytic.plane_wall(0.0, 600, **shared) == pytest.approx(197.068491, abs=1e-5)
    assert run.bond[-1, 0] == pytest.approx(200.6676, abs=0.05)
    assert run.back[-1, 0] == pytest.approx(197.0685, abs=0.05)


@pytest.mark.parametrize(("t", "radius", "expected"), [
    (10, 0.025, 4.809384), (60, 0.025, 7.555790), (600, 0.025, 9.204096), (600, 0.05, 16.847750)])
def test_disc_of_flux_closed(t, radius, expected):
    assert analytic.flux_disc(t, q=20e3, radius=radius, k=50, alpha=ALPHA) == pytest.approx(expected, abs=1e-5)


def test_disc_of_flux_marched():
    from soundedge.heat.section import cut

    section = cut(plate_mm=120, radius_mm=200, spot_d_mm=20, film_mm=1e-6, dish=False, rings=80, slices=80, old_cells=1,
                  even=True)
    hot = flux(20e3)
    air = np.where(section.middles_mm < 25, hot["air"], 20.0)
    run = march(section, values_of(section, h=hot["h"], air=air), Program(end_s=60))

    assert run.surface[-1, 0] - 20 == pytest.approx(7.55579, rel=0.01)


def test_steady_disc_and_gaussian_flux():
    assert 20e3 * 0.025 / 50 == pytest.approx(10.0)
    assert 8 * 20e3 * 0.025 / (3 * math.pi * 50) == pytest.approx(8.488264, abs=1e-6)
    for t, expected in ((10, 4.400157), (60, 7.297700), (600, 9.495668), (1e15, 10.634723)):
        assert analytic.gaussian_flux(t, q=20e3, width=0.03, k=50, alpha=ALPHA) == pytest.approx(expected, abs=1e-5)


FILM_CASE = ((1, 31.965506, 0.066480), (5, 66.706811, 1.748026), (10, 79.308720, 3.688590), (60, 91.520247, 11.968538),
             (300, 107.601309, 27.790947))


def test_film_on_thick_steel_under_a_flux():
    section = filmed(mm=300, slices=120, film_mm=0.8, cells=10)
    run = march(section, values_of(section, **flux(20e3)), Program(end_s=300, **END))

    for t, surface, bond in FILM_CASE:
        closed = analytic.film_on_half_space(t, q=20e3, d=0.8e-3, film=FILM, base=STEEL)
        assert closed == pytest.approx((surface, bond), abs=1e-5)
        assert run.at(run.surface, t) - 20 == pytest.approx(surface, abs=0.2)
        assert run.at(run.bond, t) - 20 == pytest.approx(bond, abs=0.2)


def test_two_layers_in_the_steady_state():
    section = filmed(mm=12, slices=4, film_mm=0.8, cells=4)
    run = march(section, values_of(section, h=60, air=500, h_back=10), Program(end_s=60_000, longest_s=200, share=0.05))

    assert run.surface[-1, 0] == pytest.approx(433.833260, abs=0.01)
    assert run.bond[-1, 0] == pytest.approx(417.953242, abs=0.01)
    assert run.back[-1, 0] == pytest.approx(417.000441, abs=0.01)


def test_stefan_front():
    number, root = analytic.stefan(cp=2500, latent=179e3, dt=10)
    depth = 2 * root * math.sqrt(1.5 / (870 * 2500) * 36_000)

    assert (number, root) == pytest.approx((0.139664804, 0.258415437), abs=1e-8)
    assert depth == pytest.approx(0.0814358622, abs=1e-9)  # an open coupling code's example: about 81 % of 0.1 m


@pytest.mark.release
def test_stefan_front_marched():
    """Wall 10 K above melting on wax of 100 mm; melting smeared over 0.04 K."""
    cells = 200
    section = filmed(mm=1, slices=1, film_mm=100, cells=cells)
    wax = values_of(section, h=1e6, air=10, start=-0.02, around=-0.02, film=(1.5, 870.0, 2500.0), latent=179e3,
                    melt=(-0.02, 0.02), steel=(50.0, 1.0, 1.0))
    run = march(section, wax, Program(end_s=36_000, snaps_s=(36_000,), longest_s=60, share=0.02))
    temperatures = run.snaps[0][1][1:, 0]
    molten = np.clip((temperatures + 0.02) / 0.04, 0, 1).sum() * 0.1 / cells

    assert molten == pytest.approx(0.0814358622, abs=1e-4)


def test_neumann_melting_of_pvdf():
    root, depth = analytic.neumann(wall=240, melt=172, start=20, latent=51e3, k_solid=0.2, k_liquid=0.17, c_solid=1400,
                                   c_liquid=1900, rho=1780)
    section = filmed(mm=20, slices=1, film_mm=3, cells=300)
    melting = {"latent": 51e3 - 1650, "melt": (171.5, 172.5), "melt_k": 0.17, "melt_c": 1900.0}
    run = march(section, values_of(section, h=1e7, air=240, film=FILM, **melting),
                Program(end_s=10, snaps_s=(1, 5, 10), first_s=0.001, longest_s=0.02))
    assert root == pytest.approx(0.292701402, abs=1e-8)
    assert [1e6 * depth(t) for t in (1, 5, 10)] == pytest.approx([131.248, 293.479, 415.042], abs=1e-3)
    for (_, cells), t in zip(run.snaps, (1, 5, 10)):
        film = cells[1:, 0]
        front = np.clip(film - 171.5, 0, 1).sum() * 10.0
        assert front == pytest.approx(1e6 * depth(t), rel=0.03, abs=6)


def test_hot_spot_on_a_wide_plate():
    shared = {"q": 20e3, "radius": 0.03, "plate": 0.012, "k": 50, "loss": 20}

    assert analytic.plate_hot_spot(0.0, **shared) == pytest.approx(35.713861, abs=1e-5)
    assert analytic.plate_hot_spot(0.03, **shared) == pytest.approx(28.468144, abs=1e-5)


def test_radiation_alone():
    shared = {"plate_mm": 12, "density_kg_m3": 7850, "heat_capacity_j_kgk": 490, "emissivity": 0.8}
    section = plate(mm=12, slices=3)
    run = march(section, values_of(section, start=170, e=0.8, e_back=0.8), Program(end_s=1800))

    assert analytic.radiated_time_s(170, 101.110484, 20, **shared) == pytest.approx(1800, abs=0.01)
    assert run.bond[-1, 0] == pytest.approx(101.1105, rel=1e-3)
