//! The only iteration loops of the crate: roots of one equation in one unknown, and initial-value problems.

use crate::error::Error;

/// The root of `f` between `low` and `high`, to the last bits of the argument.
///
/// `f` gives the value and the slope. From a good guess Newton's steps arrive by themselves. Where they do not, each is taken
/// while it stays inside the bracket and shrinks it fast enough, and bisection otherwise, so that the root is found whatever the
/// slope does.
///
/// **Equation** x' = x - f(x)/f'(x), or the midpoint of the bracket.
///
/// **Shape** One unknown; `f(low)` and `f(high)` of opposite sign (either order), or one of them zero.
///
/// **Units** Those of the caller's argument.
///
/// **Valid for** Any continuous `f` over the bracket.
///
/// **Errors** [`Error::NotConverged`] when no root is found from the guess and the ends do not bracket one, or `f` is not finite.
///
/// **Source** W. H. Press et al., Numerical Recipes, 3rd edition, section 9.4, "Newton-Raphson method using derivative"
/// (the safeguarded form).
pub fn bracketed_newton(
    what: &'static str,
    f: impl Fn(f64) -> (f64, f64),
    mut low: f64,
    mut high: f64,
    guess: f64,
) -> Result<f64, Error> {
    const MOST_STEPS: usize = 200;
    if let Some(root) = newton(&f, low, high, guess) {
        return Ok(root);
    }
    let at_low = f(low).0;
    let at_high = f(high).0;
    if at_low == 0.0 {
        return Ok(low);
    }
    if at_high == 0.0 {
        return Ok(high);
    }
    // Also false for a NaN at either end.
    let brackets = at_low * at_high < 0.0;
    if !brackets {
        return Err(Error::NotConverged { what, residual: at_low.abs().min(at_high.abs()) });
    }
    let rising = at_low < 0.0;
    let mut x = if guess > low && guess < high { guess } else { 0.5 * (low + high) };
    let mut last_step = high - low;
    for _ in 0..MOST_STEPS {
        let (value, slope) = f(x);
        if value == 0.0 {
            return Ok(x);
        }
        if (value < 0.0) == rising {
            low = x;
        } else {
            high = x;
        }
        let newton = x - value / slope;
        // A step of nothing from an end of the bracket, where x has just become one, is the end of the search as well.
        let arrived = newton == x && slope.is_finite();
        let taken = arrived || newton > low && newton < high && (newton - x).abs() < 0.7 * last_step.abs();
        let next = if taken { newton } else { 0.5 * (low + high) };
        let enough = if taken { SMALL_STEP } else { 2.0 * f64::EPSILON };
        if (next - x).abs() <= enough * x.abs().max(f64::MIN_POSITIVE) {
            return Ok(next);
        }
        last_step = next - x;
        x = next;
    }
    Err(Error::NotConverged { what, residual: f(x).0 })
}

/// Newton's error squares itself with every step: after one this small, as a share of the argument, the next would change nothing.
const SMALL_STEP: f64 = 1e-9;

/// The root that a few steps find without looking at the ends of the bracket, if they arrive inside it.
fn newton(f: impl Fn(f64) -> (f64, f64), low: f64, high: f64, guess: f64) -> Option<f64> {
    const FEW_STEPS: usize = 4;
    let mut x = guess;
    for _ in 0..FEW_STEPS {
        // Neither is a number that is none.
        if !(x > low && x < high) {
            return None;
        }
        let (value, slope) = f(x);
        let next = x - value / slope;
        if (next - x).abs() <= SMALL_STEP * x.abs() {
            return (next > low && next < high).then_some(next);
        }
        x = next;
    }
    None
}

/// Two arguments as near as wanted with values of opposite sign, from two that are not; or the root twice.
pub type Bracket = [(f64, f64); 2];

/// A root of `f` between two arguments whose values differ in sign, without a slope.
///
/// **Equation** x = a + t (b - a), t by inverse quadratic interpolation through three points where their shape allows it, 1/2
/// otherwise; t never so near an end that the bracket could not close.
///
/// **Shape** One unknown; the ends come with their values, and so does the answer, low argument first, at most `2 within` apart.
/// None when `f` has no value somewhere inside.
///
/// **Units** Those of the caller's argument.
///
/// **Valid for** Any `f` that is continuous over the bracket; over a jump it closes in on the jump, which the values show.
///
/// **Errors** Those of `f`; [`Error::NotConverged`] when the ends do not bracket a root, or 200 steps are not enough.
///
/// **Source** T. R. Chandrupatla, A new hybrid quadratic/bisection algorithm for finding the zero of a nonlinear function
/// without using derivatives, Advances in Engineering Software 28 (1997), 145-149 (from memory).
pub fn bracketed_root(
    mut f: impl FnMut(f64) -> Result<Option<f64>, Error>,
    [low, high]: Bracket,
    within: f64,
) -> Result<Option<Bracket>, Error> {
    const MOST_STEPS: usize = 200;
    let failed = |residual| Err(Error::NotConverged { what: "bracketed root", residual });
    if low.1 == 0.0 || high.1 == 0.0 {
        let root = if low.1 == 0.0 { low } else { high };
        return Ok(Some([root, root]));
    }
    // Also false for a NaN at either end.
    let brackets = low.1 * high.1 < 0.0 && low.0 < high.0 && within > 0.0;
    if !brackets {
        return failed(low.1.abs().min(high.1.abs()));
    }
    // The newest point, the other end of the bracket, and the point that was dropped last.
    let (mut a, mut b) = (high, low);
    let mut t = 0.5;
    for _ in 0..MOST_STEPS {
        let x = a.0 + t * (b.0 - a.0);
        let Some(y) = f(x)? else { return Ok(None) };
        let dropped;
        if (y > 0.0) == (a.1 > 0.0) {
            dropped = a;
        } else {
            (dropped, b) = (b, a);
        }
        a = (x, y);
        if y == 0.0 {
            return Ok(Some([a, a]));
        }
        let width = (b.0 - a.0).abs();
        if width <= 2.0 * within {
            return Ok(Some(if a.0 < b.0 { [a, b] } else { [b, a] }));
        }
        t = interpolated(a, b, dropped).max(within / width).min(1.0 - within / width);
    }
    failed(a.1)
}

/// Where the inverse parabola through three points is zero, as a share of the way from `a` to `b`.
fn interpolated(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> f64 {
    let xi = (a.0 - b.0) / (c.0 - b.0);
    let phi = (a.1 - b.1) / (c.1 - b.1);
    if phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi {
        let of_c = a.1 / (b.1 - a.1) * c.1 / (b.1 - c.1);
        let of_b = (c.0 - a.0) / (b.0 - a.0) * a.1 / (c.1 - a.1) * b.1 / (c.1 - b.1);
        return of_c + of_b;
    }
    0.5
}

/// The solution of y' = f(x, y) from `from` to `to` in equal steps; `observe` sees every point but the first.
///
/// **Equation** The classical Runge-Kutta step of fourth order: y + h (k1 + 2 k2 + 2 k3 + k4)/6.
///
/// **Shape** `N` unknowns; at least one step is taken.
///
/// **Units** Those of the caller.
///
/// **Valid for** A slope that is smooth inside the range: a caller with a kink stops at it and starts again.
///
/// **Errors** None; a slope that is not finite makes a result that is not.
///
/// **Source** W. H. Press et al., Numerical Recipes, 3rd edition, section 17.1, "Runge-Kutta Method".
pub fn runge_kutta<const N: usize>(
    f: impl Fn(f64, &[f64; N]) -> [f64; N],
    [from, to]: [f64; 2],
    start: [f64; N],
    steps: u32,
    mut observe: impl FnMut(f64, &[f64; N]),
) -> [f64; N] {
    let h = (to - from) / f64::from(steps.max(1));
    let moved = |y: &[f64; N], k: &[f64; N], by: f64| std::array::from_fn(|i| y[i] + by * k[i]);
    let mut y = start;
    for step in 0..steps.max(1) {
        let x = from + f64::from(step) * h;
        let k1 = f(x, &y);
        let k2 = f(x + h / 2.0, &moved(&y, &k1, h / 2.0));
        let k3 = f(x + h / 2.0, &moved(&y, &k2, h / 2.0));
        let k4 = f(x + h, &moved(&y, &k3, h));
        y = std::array::from_fn(|i| y[i] + h / 6.0 * (k1[i] + 2.0 * (k2[i] + k3[i]) + k4[i]));
        observe(x + h, &y);
    }
    y
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_error_falls_with_the_fourth_power_of_the_step() {
        let error = |steps| {
            let circle = |_, [x, y]: &[f64; 2]| [-y, *x];
            let [x, y] = runge_kutta(circle, [0.0, 2.0], [1.0, 0.0], steps, |_, _| ());
            (x - 2.0_f64.cos()).hypot(y - 2.0_f64.sin())
        };
        assert!(error(20) < 1e-5);
        assert!((error(20) / error(40) - 16.0).abs() < 1.5);
    }

    #[test]
    fn finds_a_root_that_newton_alone_would_miss() {
        // From 3, Newton's steps on the arctangent leave for infinity.
        let root = bracketed_newton("atan", |x| (x.atan(), 1.0 / (1.0 + x * x)), -5.0, 7.0, 3.0);
        assert!(root.is_ok_and(|x| x.abs() < 1e-15));
    }

    #[test]
    fn the_search_ends_where_newton_stands_still() {
        for step in 1..1000 {
            let share = f64::from(step) / 1000.0;
            let asked = std::cell::Cell::new(0);
            let f = |x: f64| {
                asked.set(asked.get() + 1);
                (x.cos() - share * x, -x.sin() - share)
            };
            let root = bracketed_newton("cosine", f, 0.0, 2.0, 1.0).expect("it has one root");
            assert!((root.cos() - share * root).abs() < 1e-15 && asked.get() <= 8, "{share}: {} times", asked.get());
        }
    }

    #[test]
    fn a_root_without_a_slope_is_found_and_seldom_slowly() {
        let functions: [fn(f64) -> f64; 5] =
            [|x| x * x * x - 2.0, |x| x.exp() - 3.0, |x| x.powi(9) - 1e-3, |x| (10.0 * x).atan() - 0.3, |x| x - 1e-7];
        for f in functions {
            let mut count = 0;
            let counted = |x: f64| {
                count += 1;
                Ok(Some(f(x)))
            };
            let found = bracketed_root(counted, [(-1.0, f(-1.0)), (3.0, f(3.0))], 1e-14).unwrap().unwrap();
            let [(low, at_low), (high, at_high)] = found;
            assert!(high - low <= 2e-14 && at_low <= 0.0 && at_high >= 0.0, "{found:?}");
            // Bisection takes 48.
            assert!(count <= 15, "{count}");
        }
    }

    #[test]
    fn a_gap_inside_a_bracket_is_told() {
        let f = |x: f64| Ok((x < 0.4).then_some(-1.0));
        assert_eq!(bracketed_root(f, [(0.0, -1.0), (1.0, 1.0)], 1e-9), Ok(None));
        assert!(bracketed_root(|_| Ok(Some(1.0)), [(0.0, 1.0), (1.0, 1.0)], 1e-9).is_err());
    }

    #[test]
    fn refuses_a_bracket_without_a_root() {
        let outcome = bracketed_newton("square", |x| (x * x + 1.0, 2.0 * x), -1.0, 1.0, 0.0);
        assert!(matches!(outcome, Err(Error::NotConverged { what: "square", .. })));
    }
}
