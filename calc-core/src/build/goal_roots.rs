//! The systems of equations behind a goal, solved by brackets nested in each other.

use crate::error::Error;
use crate::solve::{Bracket, bracketed_root};

use super::goal_search::{Equation, Point, Search};

/// Into how many parts a range is cut to look for changes of sign.
const PARTS: usize = 24;
/// A difference this small, as a share of what is wanted, is none.
const ROUNDING: f64 = 1e-13;

impl Search<'_> {
    /// All points at which the equations hold, the other unknowns being as in `point`.
    pub(super) fn solve(
        &mut self,
        unknowns: &[usize],
        equations: &[Equation],
        point: Point,
    ) -> Result<Vec<Point>, Error> {
        let acting = |search: &Self, index: usize| -> Vec<usize> {
            unknowns.iter().copied().filter(|unknown| search.depends[index][*unknown]).collect()
        };
        // What nothing here acts on holds already, or the point is refused in the end.
        let equations: Vec<Equation> =
            equations.iter().copied().filter(|(index, _)| !acting(self, *index).is_empty()).collect();
        if unknowns.is_empty() {
            return Ok(vec![point]);
        }
        if equations.len() < unknowns.len() {
            return self.solve_some(unknowns, &equations, point);
        }
        // Equations that as many unknowns alone act on are solved first.
        let places: Vec<usize> = (0..equations.len()).collect();
        for chosen in (1..equations.len()).flat_map(|size| subsets(&places, size)) {
            let of = |wanted: bool| -> Vec<Equation> {
                places.iter().filter(|place| chosen.contains(place) == wanted).map(|place| equations[*place]).collect()
            };
            let (first, rest) = (of(true), of(false));
            let acts = |unknown: &usize| first.iter().any(|(index, _)| self.depends[*index][*unknown]);
            let (acting, others): (Vec<usize>, Vec<usize>) = unknowns.iter().copied().partition(acts);
            if acting.len() <= first.len() {
                let mut found = Vec::new();
                for root in self.solve(&acting, &first, point)? {
                    found.extend(self.solve(&others, &rest, root)?);
                }
                return Ok(found);
            }
        }
        // All act on each other: one is tried along its range, the others follow it.
        let (outer, kept) = self.pivot(unknowns, &equations);
        let inner: Vec<usize> = unknowns.iter().copied().filter(|unknown| *unknown != outer).collect();
        self.along(outer, equations[kept], &inner, &without(&equations, kept), point)
    }

    /// The unknown to try and the equation to keep for it, so that the others fix the inner unknowns best: those with the largest
    /// determinant of slopes. Of two that are equal, the one named first.
    fn pivot(&self, unknowns: &[usize], equations: &[Equation]) -> (usize, usize) {
        let slope = |index: usize, unknown: usize| {
            let length = unknowns.iter().map(|other| self.slopes[index][*other].powi(2)).sum::<f64>().sqrt();
            if length > 0.0 { self.slopes[index][unknown] / length } else { 0.0 }
        };
        let mut best = (-1.0, (unknowns[0], 0));
        for outer in unknowns {
            let inner: Vec<usize> = unknowns.iter().copied().filter(|unknown| unknown != outer).collect();
            for kept in 0..equations.len() {
                let determinant = match (&without(equations, kept)[..], &inner[..]) {
                    ([(f, _)], [x]) => slope(*f, *x),
                    ([(f, _), (g, _)], [x, y]) => slope(*f, *x) * slope(*g, *y) - slope(*f, *y) * slope(*g, *x),
                    _ => 0.0,
                };
                if determinant.abs() > best.0 {
                    best = (determinant.abs(), (*outer, kept));
                }
            }
        }
        best.1
    }

    /// With more unknowns than equations: those that are not solved for stay, or go to an end of their range.
    fn solve_some(&mut self, unknowns: &[usize], equations: &[Equation], point: Point) -> Result<Vec<Point>, Error> {
        let mut found = Vec::new();
        for solved in subsets(unknowns, equations.len()) {
            let mut points = vec![point];
            for other in unknowns.iter().copied().filter(|unknown| !solved.contains(unknown)) {
                let ends = [point[other], self.share_of_range(other, 0.0), self.share_of_range(other, 1.0)];
                let moved = |point: &Point| {
                    ends.map(|end| std::array::from_fn(|index| if index == other { end } else { point[index] }))
                };
                points = points.iter().flat_map(moved).collect();
            }
            for point in points {
                found.extend(if solved.is_empty() { vec![point] } else { self.solve(&solved, equations, point)? });
            }
        }
        Ok(found)
    }

    /// All points along the range of one unknown at which its equation holds, the `inner` unknowns keeping the `rest`.
    fn along(
        &mut self,
        outer: usize,
        equation: Equation,
        inner: &[usize],
        rest: &[Equation],
        point: Point,
    ) -> Result<Vec<Point>, Error> {
        // The present value is one of the arguments: what can stay should.
        let mut arguments: Vec<f64> =
            (0..=PARTS).map(|part| self.share_of_range(outer, part as f64 / PARTS as f64)).collect();
        arguments.push(point[outer]);
        arguments.sort_by(f64::total_cmp);
        arguments.dedup();
        let mut scanned = Vec::with_capacity(arguments.len());
        for value in arguments {
            scanned.push((value, self.follow(outer, value, equation, inner, rest, point)?));
        }
        let branches = scanned.iter().map(|(_, followed)| followed.len()).max().unwrap_or(0);
        let mut found: Vec<Point> = Vec::new();
        for branch in 0..branches {
            let known: Vec<(f64, Option<f64>)> = scanned
                .iter()
                .map(|(value, followed)| (*value, followed.get(branch).map(|(_, missing)| *missing)))
                .collect();
            let within = 2.0 * f64::EPSILON * known.iter().fold(0.0_f64, |most, (value, _)| most.max(value.abs()));
            let mut missing = |value: f64| {
                let followed = self.follow(outer, value, equation, inner, rest, point)?;
                Ok(followed.get(branch).map(|(_, missing)| *missing))
            };
            let roots = if let Some(value) = everywhere(&known, point[outer]) {
                vec![value]
            } else {
                let mut closed = Vec::new();
                for bracket in brackets(&known, &mut missing)? {
                    closed.extend(bracketed_root(&mut missing, bracket, within)?);
                }
                closed.into_iter().map(|[low, high]| self.better_end(equation, low, high)).collect()
            };
            for root in roots {
                let followed = self.follow(outer, root, equation, inner, rest, point)?;
                found.extend(followed.get(branch).map(|(inputs, _)| *inputs));
            }
        }
        Ok(found)
    }

    /// A limit is met from its own side; an equality from the nearer one.
    fn better_end(&self, (index, value): Equation, low: (f64, f64), high: (f64, f64)) -> f64 {
        let wanted = &self.input.wanted[index];
        let sound = |missing: f64| {
            wanted.at_least.is_none_or(|least| value + missing >= least)
                && wanted.at_most.is_none_or(|most| value + missing <= most)
        };
        match (sound(low.1), sound(high.1)) {
            (true, false) => low.0,
            (false, true) => high.0,
            _ if low.1.abs() <= high.1.abs() => low.0,
            _ => high.0,
        }
    }

    /// The points with one unknown at a value and the inner ones solved for it, and what is missing to the equation there.
    fn follow(
        &mut self,
        outer: usize,
        value: f64,
        (index, target): Equation,
        inner: &[usize],
        rest: &[Equation],
        mut point: Point,
    ) -> Result<Vec<(Point, f64)>, Error> {
        point[outer] = value;
        let points = if inner.is_empty() {
            vec![point]
        } else {
            self.depth += 1;
            let solved = self.solve(inner, rest, point);
            self.depth -= 1;
            solved?
        };
        let mut followed = Vec::with_capacity(points.len());
        for point in points {
            let missing = self.at(point)?.map(|results| results[index] - target);
            // Where the inner equations bring this one with them, only rounding is left of it.
            let rounded = |missing: f64| if missing.abs() <= ROUNDING * target.abs() { 0.0 } else { missing };
            followed.extend(missing.map(|missing| (point, rounded(missing))));
        }
        Ok(followed)
    }
}

/// Where an equation holds all along a range, because the inner ones bring it with them, the argument nearest to the present.
fn everywhere(known: &[(f64, Option<f64>)], present: f64) -> Option<f64> {
    const SEVERAL: usize = 3;
    let holds = || known.iter().filter(|(_, missing)| *missing == Some(0.0)).map(|(value, _)| *value);
    let nearer = |a: f64, b: f64| if (b - present).abs() < (a - present).abs() { b } else { a };
    if holds().count() < SEVERAL { None } else { holds().reduce(nearer) }
}

/// The brackets between neighbours of opposite sign; where only one of two has a value, up to the last argument that has one.
fn brackets(
    known: &[(f64, Option<f64>)],
    f: &mut impl FnMut(f64) -> Result<Option<f64>, Error>,
) -> Result<Vec<Bracket>, Error> {
    let mut found = Vec::new();
    for pair in known.windows(2) {
        let [left, right] = [pair[0], pair[1]];
        let ends = match (left.1, right.1) {
            (Some(_), Some(_)) => [left, right],
            (Some(_), None) => [left, border(left, right.0, f)?],
            (None, Some(_)) => [border(right, left.0, f)?, right],
            (None, None) => continue,
        };
        if let [(low, Some(at_low)), (high, Some(at_high))] = ends
            && (at_low == 0.0 || at_low * at_high < 0.0)
        {
            found.push([(low, at_low), (high, at_high)]);
        }
    }
    // A root at the very end has no neighbour after it.
    if let Some((end, Some(0.0))) = known.last() {
        found.push([(*end, 0.0), (*end, 0.0)]);
    }
    Ok(found)
}

/// The last argument with a value, from one that has one towards one that has none.
fn border(
    mut with: (f64, Option<f64>),
    mut without: f64,
    f: &mut impl FnMut(f64) -> Result<Option<f64>, Error>,
) -> Result<(f64, Option<f64>), Error> {
    const HALVINGS: usize = 40;
    let first = with.1;
    for _ in 0..HALVINGS {
        let middle = 0.5 * (with.0 + without);
        match f(middle)? {
            Some(value) => with = (middle, Some(value)),
            None => without = middle,
        }
        // Once the sign has changed the border itself is of no interest.
        if with.1.zip(first).is_some_and(|(now, first)| now * first < 0.0) {
            break;
        }
    }
    Ok(with)
}

fn without(equations: &[Equation], place: usize) -> Vec<Equation> {
    equations.iter().enumerate().filter(|(index, _)| *index != place).map(|(_, equation)| *equation).collect()
}

/// Every choice of `count` items, in their order.
fn subsets(items: &[usize], count: usize) -> Vec<Vec<usize>> {
    let chosen =
        |choice: usize| (0..items.len()).filter(|index| choice >> index & 1 == 1).map(|index| items[index]).collect();
    let mut all: Vec<Vec<usize>> =
        (0..1_usize << items.len()).filter(|choice| choice.count_ones() as usize == count).map(chosen).collect();
    all.sort();
    all
}
