"""Makes calc-core/src/oil/bearing_table.rs: finite journal bearings from the Reynolds equation. Takes a few minutes.

    target/venv/bin/python tests/reference/bearing_table.py > calc-core/src/oil/bearing_table.rs

With H = 1 + e cos(theta), theta from the thickest film along the motion, z from -1 to 1 over the width and the pressure p in
units of mu w (r/c)^2, where w is the angular speed:

    d/dtheta (H^3 dp/dtheta) + (d/l)^2 d/dz (H^3 dp/dz) = 6 dH/dtheta,  p >= 0

The oil is isoviscous, the film begins at the thickest place (p = 0 at theta = 0) and ends where p = 0 and dp/dtheta = 0: the
conditions of Raimondi and Boyd. p >= 0 makes it a complementarity problem, which the active-set (Howard's) iteration solves
exactly on a grid. Finite volumes on a grid that is even in Sommerfeld's angle and crowded to the edge; two grids, of which
Richardson's extrapolation removes the error of second order.

What is tabulated are the logarithms of the ratios to short-bearing (Ocvirk's) theory, which are smooth; the theory itself is not
used for any answer.
"""

import math

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

# Nodes: even in the logarithm of the least film, and in the logarithm of width over diameter.
LEAST_FILM = 0.02
STEPS = 26
NARROWEST, WIDEST, WIDTHS = 0.05, 2.0, 17
ECCENTRICITIES = [1 - LEAST_FILM ** (k / STEPS) for k in range(STEPS + 1)]
WIDTH_RATIOS = [NARROWEST * (WIDEST / NARROWEST) ** (j / (WIDTHS - 1)) for j in range(WIDTHS)]
GRIDS = [(120, 16), (240, 32)]


def angle(psi, eccentricity):
    """Sommerfeld's substitution: theta where 1 + e cos(theta) = (1 - e^2)/(1 - e cos(psi))."""
    turns = np.floor((psi + math.pi) / (2 * math.pi))
    half = (psi - 2 * math.pi * turns) / 2
    wide, narrow = math.sqrt(1 + eccentricity), math.sqrt(1 - eccentricity)
    return 2 * np.arctan2(wide * np.sin(half), narrow * np.cos(half)) + 2 * math.pi * turns


def complementary(matrix, right, never):
    """p >= 0, M p - q >= 0, one of them zero in every place; p = 0 where `never`."""
    free = (right > 0) & ~never
    for _ in range(300):
        places = np.flatnonzero(free)
        pressure = np.zeros(len(right))
        pressure[places] = spsolve(matrix[places][:, places].tocsc(), right[places])
        rest = matrix @ pressure - right
        now = np.where(free, pressure > 0, rest < 0) & ~never
        if (now == free).all():
            return pressure
        free = now
    raise ArithmeticError("the film's boundary was not found")


def on_grid(width_ratio, eccentricity, around, across):
    """Load, attitude angle, side flow and highest pressure on one grid of half the width."""
    step = 2 * math.pi / around
    psi = np.arange(around) * step
    theta, face = angle(psi, eccentricity), angle(psi + step / 2, eccentricity)
    film, film_face = 1 + eccentricity * np.cos(theta), 1 + eccentricity * np.cos(face)
    spans = np.append(theta[1:], theta[0] + 2 * math.pi) - theta
    cells = face - np.insert(face[:-1], 0, face[-1] - 2 * math.pi)
    share = np.arange(across + 1) / across
    z, z_face = np.sin(math.pi / 2 * share), np.sin(math.pi / 2 * (share[:-1] + 0.5 / across))
    widths = np.diff(np.insert(z_face, 0, 0.0))
    slender = width_ratio ** -2

    along = (film_face**3 / spans)[:, None] * widths
    outward = slender * (film**3 * cells)[:, None] / np.diff(z)
    number = np.arange(around * across).reshape(around, across)
    diagonal = along + np.roll(along, 1, axis=0) + outward
    diagonal[:, 1:] += outward[:, :-1]
    pairs = [(number, np.roll(number, -1, axis=0), along), (number[:, :-1], number[:, 1:], outward[:, :-1])]
    rows, columns, values = [number.ravel()], [number.ravel()], [diagonal.ravel()]
    for one, other, conductance in pairs:
        rows += [one.ravel(), other.ravel()]
        columns += [other.ravel(), one.ravel()]
        values += [-conductance.ravel()] * 2
    matrix = coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))).tocsr()

    drag = 6 * (film_face - np.roll(film_face, 1))
    inlet = np.zeros((around, across), bool)
    inlet[0] = True
    pressure = complementary(matrix, (-drag[:, None] * widths).ravel(), inlet.ravel()).reshape(around, across)

    lift = (pressure * widths).sum(axis=1) * cells
    against, sideways = -(lift * np.cos(theta)).sum(), (lift * np.sin(theta)).sum()
    # What crosses the last face, and what the half cell beyond it adds.
    edge = outward[:, -1] * pressure[:, -1] - np.where(pressure[:, -1] > 0, drag * (1 - z_face[-1]), 0)
    return np.array([
        math.hypot(against, sideways),
        math.atan2(sideways, against),
        math.pi / 6 * edge.sum(),
        crest(theta, pressure[:, 0]),
    ])


def crest(theta, pressure):
    """The highest pressure of the mid-plane, by the parabola through the highest place and its neighbours."""
    top = int(np.argmax(pressure))
    around = slice(top - 1, top + 2)
    square, line, level = np.polyfit(theta[around] - theta[top], pressure[around], 2)
    return level - line * line / (4 * square)


def solve(width_ratio, eccentricity, grids=GRIDS):
    """Load W/(mu w r l (r/c)^2), attitude angle, side flow Qs/(r c N l), highest pressure p/(mu w (r/c)^2)."""
    coarse, fine = (on_grid(width_ratio, eccentricity, *grid) for grid in grids)
    return (4 * fine - coarse) / 3


def short_bearing(width_ratio, eccentricity):
    """The same four of Ocvirk's theory (half film)."""
    e, narrow = eccentricity, 1 - eccentricity**2
    peak = -6 * e / (1 + math.sqrt(1 + 24 * e * e))  # cosine of the place of the highest pressure
    return np.array([
        width_ratio**2 * e * math.sqrt(math.pi**2 * narrow + 16 * e * e) / narrow**2,
        math.atan2(math.pi * math.sqrt(narrow), 4 * e),
        2 * math.pi * e,
        3 * width_ratio**2 * e * math.sqrt(1 - peak * peak) / (1 + e * peak) ** 3,
    ])


def log_ratios(width_ratio, eccentricity):
    """What is tabulated; a bearing that is all but centred stands for the centred one."""
    eccentricity = max(eccentricity, 1e-5)
    return np.log(solve(width_ratio, eccentricity) / short_bearing(width_ratio, eccentricity))


HEAD = """//! Finite journal bearings, as logarithms of their ratios to short-bearing theory; made by `tests/reference/bearing_table.py` from the Reynolds equation.
//!
//! A row for each width over diameter, a column for each eccentricity; [`super::bearing_film`] reads between them.

/// Width over diameter of the first and the last row; rows are even in its logarithm.
pub(super) const WIDTH_RATIOS: [f64; 2] = [{narrowest}, {widest}];
/// Least film over clearance in the last column; columns are even in its logarithm, from one.
pub(super) const LEAST_FILM: f64 = {least};
/// Eccentricities in a row.
pub(super) const COLUMNS: usize = {columns};
/// Widths.
pub(super) const ROWS: usize = {rows};
/// One table.
pub(super) type Table = [[f64; COLUMNS]; ROWS];
"""

NAMES = [
    ("LOAD", "Load."),
    ("ATTITUDE", "Angle between load and line of centres."),
    ("SIDE_FLOW", "Side flow."),
    ("PEAK", "Highest pressure."),
]


def main():
    table = np.array([[log_ratios(width, e) for e in ECCENTRICITIES] for width in WIDTH_RATIOS])
    print(HEAD.format(narrowest=NARROWEST, widest=WIDEST, least=LEAST_FILM, columns=STEPS + 1, rows=WIDTHS), end="")
    for which, (name, meaning) in enumerate(NAMES):
        print(f"\n/// {meaning}\n#[rustfmt::skip]\npub(super) const {name}: Table = [")
        for row in table[:, :, which]:
            figures = [f"{value:.6f}" for value in row]
            lines = [", ".join(figures[at : at + 9]) for at in range(0, len(figures), 9)]
            print("    [" + ",\n     ".join(lines) + "],")
        print("];")


if __name__ == "__main__":
    main()
