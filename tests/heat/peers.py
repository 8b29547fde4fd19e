"""The benchmark once more in two general-purpose finite-volume and finite-element libraries, as independent solutions.

FiPy: cylindrical grid, backward Euler, two sweeps. scikit-fem: bilinear quadrilaterals weighted with r, backward Euler
with lagged coefficients. Same boundary conditions, melting as apparent heat capacity (160 to 176 °C, 55 kJ/kg)."""

import numpy as np

SIGMA, ZERO = 5.670374419e-8, 273.15
STEEL = (50.0, 7850.0 * 490.0)
RHO, K, CS, CL, LATENT, FROM, TO = 1780.0, 0.2, 1400.0, 1900.0, 55e3, 160.0, 176.0
R, H, D = 0.150, 0.020, 0.8e-3


def jet(r):
    return 69 * (1 + (r / 0.06) ** 2) ** -0.75, 20 + 480 / (1 + (r / 0.136) ** 2)


def capacity(t):
    mush = LATENT / (TO - FROM) + 0.5 * (CS + CL)
    return RHO * np.where(t < FROM, CS, np.where(t < TO, mush, CL))


def h_radiation(t, e):
    a, b = t + ZERO, 20 + ZERO
    return e * SIGMA * (a * a + b * b) * (a + b)


def steps(end=600.0, dt=2.0):
    """0.2 s for the first ten steps, then ``dt``."""
    t, out = 0.0, []
    while t < end - 1e-9:
        s = min(0.2 if len(out) < 10 else dt, end - t)
        out.append(s)
        t += s
    return out


def fipy_benchmark(rings=12, slices=4, cells=2, dt=2.0):
    """(bond, surface) at the axis after 600 s, °C."""
    from fipy import (
        CellVariable,
        CylindricalGrid2D,
        DiffusionTerm,
        FaceVariable,
        ImplicitSourceTerm,
        LinearLUSolver,
        TransientTerm,
    )

    dz = np.array([H / slices] * slices + [D / cells] * cells)
    mesh = CylindricalGrid2D(dx=np.full(rings, R / rings), dy=dz)
    rows = slices + cells
    cell_row = np.repeat(np.arange(rows), rings)
    r = np.tile((np.arange(rings) + 0.5) * R / rings, rows)
    t = CellVariable(mesh=mesh, value=20.0, hasOld=True)
    k_cell = CellVariable(mesh=mesh, value=np.where(cell_row < slices, STEEL[0], K))
    k_face = FaceVariable(mesh=mesh, value=k_cell.harmonicFaceValue)
    film = cell_row >= slices
    top, bottom = cell_row == rows - 1, cell_row == 0
    rim = np.tile(np.arange(rings), rows) == rings - 1
    width = R / rings
    h_air, air = jet(r)
    c_var, u_var, sink_var = (CellVariable(mesh=mesh, value=0.0) for _ in range(3))
    equation = (TransientTerm(coeff=c_var) == DiffusionTerm(coeff=k_face) + sink_var - ImplicitSourceTerm(coeff=u_var))
    solver = LinearLUSolver()
    for s in steps(dt=dt):
        t.updateOld()
        for _ in range(2):
            v = t.value
            h_r = h_radiation(v, 0.9)
            h = h_air + h_r
            g = np.where(top, 1 / (1 / h + dz[-1] / (2 * K)), 0.0) / dz[-1]
            u, sink = g.copy(), g * (h_air * air + h_r * 20) / h
            h = 6 + h_radiation(v, 0.8)
            g = np.where(bottom, 1 / (1 / h + dz[0] / (2 * STEEL[0])), 0.0) / dz[0]
            u, sink = u + g, sink + g * 20
            g = np.where(rim & ~film, 10.0, 0.0) * R / ((R - width / 2) * width)
            u, sink = u + g, sink + g * 20
            c_var.setValue(np.where(film, capacity(v), STEEL[1]))
            u_var.setValue(u)
            sink_var.setValue(sink)
            equation.sweep(var=t, dt=s, solver=solver)
    grid = t.value.reshape(rows, rings)
    return at_axis(grid[:, 0], dz, float(h_air[0]), float(air[0]), slices)


def at_axis(column, dz, h_air, air, slices):
    """Bond and surface of one column of cells."""
    lower, upper = 2 * STEEL[0] / dz[slices - 1], 2 * K / dz[slices]
    bond = (lower * column[slices - 1] + upper * column[slices]) / (lower + upper)
    top = column[-1]
    surface = top
    for _ in range(20):
        h_r = float(h_radiation(np.array(surface), 0.9))
        g = 2 * K / dz[-1]
        surface = (h_air * air + h_r * 20 + g * top) / (h_air + h_r + g)
    return float(bond), float(surface)


def skfem_benchmark(rings=12, slices=4, cells=2, dt=2.0):
    """(bond, surface) at the axis after 600 s, °C."""
    from scipy.sparse.linalg import splu
    from skfem import Basis, BilinearForm, ElementQuad1, FacetBasis, LinearForm, MeshQuad

    z = np.concatenate([np.linspace(0, H, slices + 1), H + np.linspace(0, D, cells + 1)[1:]])
    mesh = MeshQuad.init_tensor(np.linspace(0, R, rings + 1), z)
    basis = Basis(mesh, ElementQuad1(), intorder=3)
    x, y = mesh.p
    faces = {"top": lambda p: np.isclose(p[1], H + D), "bottom": lambda p: np.isclose(p[1], 0),
             "rim": lambda p: np.isclose(p[0], R) & (p[1] < H)}
    facets = {name: FacetBasis(mesh, ElementQuad1(), facets=mesh.facets_satisfying(f), intorder=3) for name, f in faces.items()}

    @BilinearForm
    def stiffness(u, v, w):
        return np.where(w.x[1] < H, STEEL[0], K) * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]) * w.x[0]

    @BilinearForm
    def mass(u, v, w):
        return np.where(w.x[1] < H, STEEL[1], capacity(w["t"])) * u * v * w.x[0]

    def h_of(name, w):
        if name == "top":
            h_air, air = jet(w.x[0])
            h_r = h_radiation(w["t"], 0.9)
            return h_air + h_r, h_air * air + h_r * 20
        h = 6 + h_radiation(w["t"], 0.8) if name == "bottom" else 10.0 + 0 * w.x[0]
        return h, h * 20

    fixed = stiffness.assemble(basis)
    t = np.full(basis.N, 20.0)
    for s in steps(dt=dt):
        old = t.copy()
        for _ in range(2):
            m = mass.assemble(basis, t=basis.interpolate(t)) / s
            matrix, load = fixed + m, m @ old
            for name, facet in facets.items():
                field = facet.interpolate(t)
                matrix = matrix + BilinearForm(lambda u, v, w, n=name: h_of(n, w)[0] * u * v * w.x[0]).assemble(facet, t=field)
                load = load + LinearForm(lambda v, w, n=name: h_of(n, w)[1] * v * w.x[0]).assemble(facet, t=field)
            t = splu(matrix.tocsc()).solve(load)
    axis = np.isclose(x, 0)
    return (float(t[axis & np.isclose(y, H)][0]), float(t[axis & np.isclose(y, H + D)][0]))


def skfem_lean(steps_s, rings=12, slices=4, cells=2):
    """As ``skfem_benchmark``, as somebody who knows the library would write it to be quick: each form assembled once, masses
    lumped, so that a step changes only the diagonal and solves. ``steps_s``: its time steps; two sweeps each."""
    from scipy.sparse import csc_matrix, diags
    from scipy.sparse.linalg import splu
    from skfem import Basis, BilinearForm, ElementQuad1, FacetBasis, LinearForm, MeshQuad

    z = np.concatenate([np.linspace(0, H, slices + 1), H + np.linspace(0, D, cells + 1)[1:]])
    mesh = MeshQuad.init_tensor(np.linspace(0, R, rings + 1), z)
    basis = Basis(mesh, ElementQuad1(), intorder=3)
    x, y = mesh.p
    weight = LinearForm(lambda v, w: v * w.x[0])
    steel = LinearForm(lambda v, w: np.where(w.x[1] < H, 1.0, 0.0) * v * w.x[0]).assemble(basis)
    film = weight.assemble(basis) - steel
    fixed = csc_matrix(BilinearForm(
        lambda u, v, w: np.where(w.x[1] < H, STEEL[0], K) * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]) * w.x[0]
    ).assemble(basis))

    def edge(where):
        return weight.assemble(FacetBasis(mesh, ElementQuad1(), facets=mesh.facets_satisfying(where), intorder=3))

    top, bottom = edge(lambda p: np.isclose(p[1], H + D)), edge(lambda p: np.isclose(p[1], 0))
    rim = edge(lambda p: np.isclose(p[0], R) & (p[1] < H))
    h_air, air = jet(x)
    t = np.full(basis.N, 20.0)
    for s in steps_s:
        old = t
        for _ in range(2):
            mass = (STEEL[1] * steel + capacity(t) * film) / s
            hot, back = h_radiation(t, 0.9), 6 + h_radiation(t, 0.8)
            taken = mass + (h_air + hot) * top + back * bottom + 10.0 * rim
            load = mass * old + (h_air * air + hot * 20) * top + back * 20 * bottom + 200.0 * rim
            t = splu(fixed + diags(taken, format="csc")).solve(load)
    axis = np.isclose(x, 0)
    return (float(t[axis & np.isclose(y, H)][0]), float(t[axis & np.isclose(y, H + D)][0]))
