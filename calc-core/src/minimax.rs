//! The linear programme of the plane that stays closest to its farthest point.

use crate::error::Error;

/// The plane z = a x + b y + c whose largest distance from the points, along z, is the smallest possible.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct MinimaxPlane {
    /// dz/dx.
    pub(crate) slope_x: f64,
    /// dz/dy.
    pub(crate) slope_y: f64,
    /// The largest distance, along z.
    pub(crate) half_width: f64,
}

/// Four points that hold the plane, each on its side (1 above, -1 below), and the weight of each in the dual programme.
struct Basis {
    points: [usize; 4],
    columns: [[f64; 4]; 4],
    right: [f64; 4],
}

/// Steps after which the work is given up; real surveys take fewer than twenty.
const MOST_STEPS: usize = 1000;
/// Shares of the largest coordinate and of the largest deviation below which a number is rounding.
const ROUNDING: f64 = 1e-12;

/// The minimax plane of some points; none when they are in one line, seen along z.
///
/// The primal programme is: smallest e with |z - a x - b y - c| <= e at all points. Its dual is solved by the simplex method:
/// a basis is four points of which three hold the plane on one side and one on the other, or two and two. The point that is
/// farthest out comes in; after a step without progress the first such point does (Bland's rule), so that it cannot run in
/// circles where three of the points are in one line.
pub(crate) fn minimax_plane(points: &[[f64; 3]]) -> Result<Option<MinimaxPlane>, Error> {
    let scale = |axis: usize| points.iter().fold(f64::MIN_POSITIVE, |most, point| most.max(point[axis].abs()));
    let (scale_x, scale_y, scale_z) = (scale(0), scale(1), scale(2));
    let scaled: Vec<_> = points.iter().map(|[x, y, z]| [x / scale_x, y / scale_y, z / scale_z]).collect();
    let not_converged = |residual| Error::NotConverged { what: "minimum zone", residual };
    let Some(mut basis) = first_basis(&scaled) else { return Ok(None) };
    let mut stalled = false;
    for _ in 0..MOST_STEPS {
        let [a, b, c, e] = four_equations(basis.columns, basis.right).ok_or_else(|| not_converged(f64::NAN))?;
        let outside = |[x, y, z]: [f64; 3]| z - a * x - b * y - c;
        let entering = farthest_out(&scaled, outside, e, stalled);
        let Some((index, side)) = entering else {
            return Ok(Some(MinimaxPlane {
                slope_x: a * scale_z / scale_x,
                slope_y: b * scale_z / scale_y,
                half_width: e * scale_z,
            }));
        };
        stalled = exchange(&mut basis, &scaled, index, side).ok_or_else(|| not_converged(e * scale_z))?;
    }
    Err(not_converged(scale_z))
}

/// The point outside the zone that comes in, and its side: the farthest, or the first when progress has stalled.
fn farthest_out(
    points: &[[f64; 3]],
    outside: impl Fn([f64; 3]) -> f64,
    half_width: f64,
    first: bool,
) -> Option<(usize, f64)> {
    let mut found = None;
    let mut most = half_width + ROUNDING;
    for (index, point) in points.iter().enumerate() {
        let residual = outside(*point);
        if residual.abs() > most {
            found = Some((index, residual.signum()));
            if first {
                break;
            }
            most = residual.abs();
        }
    }
    found
}

/// Puts a point into the basis for the one that its coming drives out; tells whether that was a step without progress.
fn exchange(basis: &mut Basis, points: &[[f64; 3]], index: usize, side: f64) -> Option<bool> {
    let weights = four_equations(transposed(basis.columns), [0.0, 0.0, 0.0, 1.0])?;
    let drawn = four_equations(transposed(basis.columns), column(points[index], side))?;
    let mut leaving: Option<(usize, f64)> = None;
    for place in (0..4).filter(|place| drawn[*place] > ROUNDING) {
        let share = weights[place].max(0.0) / drawn[place];
        let better = leaving.is_none_or(|(other, least)| {
            share < least || (share == least && basis.points[place] < basis.points[other])
        });
        if better {
            leaving = Some((place, share));
        }
    }
    let (place, share) = leaving?;
    basis.points[place] = index;
    basis.columns[place] = column(points[index], side);
    basis.right[place] = side * points[index][2];
    Some(share <= ROUNDING)
}

fn column([x, y, _]: [f64; 3], side: f64) -> [f64; 4] {
    [side * x, side * y, side, 1.0]
}

/// Three points that span a wide triangle and the one farthest from their plane, each on the side that makes the four a basis.
fn first_basis(points: &[[f64; 3]]) -> Option<Basis> {
    let farthest = |distance: &dyn Fn([f64; 3]) -> f64| {
        (0..points.len()).max_by(|one, other| distance(points[*one]).total_cmp(&distance(points[*other])))
    };
    let start = *points.first()?;
    let apart = |from: [f64; 3], to: [f64; 3]| (to[0] - from[0]).hypot(to[1] - from[1]);
    let p = farthest(&|point| apart(start, point))?;
    let q = farthest(&|point| apart(points[p], point))?;
    let area = |one: [f64; 3], two: [f64; 3], three: [f64; 3]| {
        (two[0] - one[0]) * (three[1] - one[1]) - (two[1] - one[1]) * (three[0] - one[0])
    };
    let r = farthest(&|point| area(points[p], points[q], point).abs())?;
    let whole = area(points[p], points[q], points[r]);
    if whole.abs() <= ROUNDING {
        return None;
    }
    // The shares of the three corners in a point of their plane; they add up to one.
    let shares = |point: [f64; 3]| {
        [area(point, points[q], points[r]), area(points[p], point, points[r]), area(points[p], points[q], point)]
            .map(|part| part / whole)
    };
    let above = |point: [f64; 3]| {
        let [on_p, on_q, on_r] = shares(point);
        point[2] - on_p * points[p][2] - on_q * points[q][2] - on_r * points[r][2]
    };
    let others = (0..points.len()).filter(|index| ![p, q, r].contains(index));
    let fourth = others.max_by(|one, other| above(points[*one]).abs().total_cmp(&above(points[*other]).abs()));
    // Of three points alone the first counts twice, once on each side: the zone has no width.
    let fourth = fourth.unwrap_or(p);
    let side = if above(points[fourth]) < 0.0 { -1.0 } else { 1.0 };
    let [on_p, on_q, on_r] = shares(points[fourth]).map(|share| if share > 0.0 { -side } else { side });
    let held = [(p, on_p), (q, on_q), (r, on_r), (fourth, side)];
    Some(Basis {
        points: held.map(|(index, _)| index),
        columns: held.map(|(index, side)| column(points[index], side)),
        right: held.map(|(index, side)| side * points[index][2]),
    })
}

fn transposed(rows: [[f64; 4]; 4]) -> [[f64; 4]; 4] {
    std::array::from_fn(|row| std::array::from_fn(|place| rows[place][row]))
}

/// Four linear equations in four unknowns, by elimination with row exchange; none when they do not settle the unknowns.
pub(crate) fn four_equations(mut rows: [[f64; 4]; 4], mut right: [f64; 4]) -> Option<[f64; 4]> {
    for step in 0..4 {
        let pivot = (step..4).max_by(|one, other| rows[*one][step].abs().total_cmp(&rows[*other][step].abs()))?;
        if rows[pivot][step].abs() <= ROUNDING {
            return None;
        }
        rows.swap(step, pivot);
        right.swap(step, pivot);
        for row in step + 1..4 {
            let share = rows[row][step] / rows[step][step];
            let above = rows[step];
            rows[row].iter_mut().zip(above).for_each(|(value, above)| *value -= share * above);
            right[row] -= share * right[step];
        }
    }
    for step in (0..4).rev() {
        let known: f64 = (step + 1..4).map(|place| rows[step][place] * right[place]).sum();
        right[step] = (right[step] - known) / rows[step][step];
    }
    Some(right)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Every plane that three points hold on one side, or two on each: the smallest range is the answer (slow and sure).
    fn by_trying_all(points: &[[f64; 3]]) -> f64 {
        let range = |a: f64, b: f64| {
            let height = points.iter().map(|[x, y, z]| z - a * x - b * y);
            height.clone().fold(f64::MIN, f64::max) - height.fold(f64::MAX, f64::min)
        };
        let less = |one: [f64; 3], two: [f64; 3]| [one[0] - two[0], one[1] - two[1], one[2] - two[2]];
        let mut least = f64::MAX;
        let count = points.len();
        let pairs: Vec<_> = (0..count).flat_map(|one| (one + 1..count).map(move |two| (one, two))).collect();
        for (i, j) in &pairs {
            for (k, l) in &pairs {
                // Both directions lie in the plane; with a common point this is the plane of three points.
                let (u, v) = (less(points[*i], points[*j]), less(points[*k], points[*l]));
                let up = u[0] * v[1] - u[1] * v[0];
                if up.abs() > 1e-9 {
                    let a = (u[2] * v[1] - u[1] * v[2]) / up;
                    least = least.min(range(a, (u[0] * v[2] - u[2] * v[0]) / up));
                }
            }
        }
        least
    }

    proptest! {
        #[test]
        fn it_is_the_best_of_all_planes(
            points in prop::collection::vec((-3_i8..=3, -2_i8..=2, -1.0..1.0), 4..9), tilt in -0.5..0.5,
        ) {
            // Whole numbers make many points in one line and many on one place.
            let points: Vec<_> = points.into_iter()
                .map(|(x, y, z)| [f64::from(x), f64::from(y), z + tilt * f64::from(x)]).collect();
            let best = by_trying_all(&points);
            prop_assume!(best < f64::MAX);
            let found = minimax_plane(&points)?.map_or(f64::NAN, |plane| 2.0 * plane.half_width);
            prop_assert!((found - best).abs() < 1e-9, "{found} for {best}");
        }
    }

    #[test]
    fn a_grid_with_many_points_in_line_does_not_stall() {
        for shift in 0..50 {
            let points: Vec<_> = (0..400)
                .map(|index| {
                    let (x, y) = (f64::from(index % 20), f64::from(index / 20));
                    [x, y, f64::from((index * (37 + shift)) % 11) * 0.01]
                })
                .collect();
            let plane = minimax_plane(&points).ok().flatten();
            assert!(plane.is_some_and(|plane| plane.half_width <= 0.05 + 1e-12));
        }
    }
}
