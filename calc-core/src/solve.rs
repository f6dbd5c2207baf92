//! The only iteration loops of the crate: roots of one equation in one unknown, and initial-value problems.

use crate::error::Error;

/// The root of `f` between `low` and `high`, to the last bits of the argument.
///
/// `f` gives the value and the slope. Newton's step is taken while it stays inside the bracket and shrinks it fast enough,
/// bisection otherwise, so that the root is found whatever the slope does.
///
/// **Equation** x' = x - f(x)/f'(x), or the midpoint of the bracket.
///
/// **Shape** One unknown; `f(low)` and `f(high)` of opposite sign (either order), or one of them zero.
///
/// **Units** Those of the caller's argument.
///
/// **Valid for** Any continuous `f` over the bracket.
///
/// **Errors** [`Error::NotConverged`] when the ends do not bracket a root, or `f` is not finite.
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
        let taken = newton > low && newton < high && (newton - x).abs() < 0.7 * last_step.abs();
        let next = if taken { newton } else { 0.5 * (low + high) };
        // Newton's error squares itself with every step: after a step this small the next would change nothing.
        let enough = if taken { 1e-9 } else { 2.0 * f64::EPSILON };
        if (next - x).abs() <= enough * x.abs().max(f64::MIN_POSITIVE) {
            return Ok(next);
        }
        last_step = next - x;
        x = next;
    }
    Err(Error::NotConverged { what, residual: f(x).0 })
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
    fn refuses_a_bracket_without_a_root() {
        let outcome = bracketed_newton("square", |x| (x * x + 1.0, 2.0 * x), -1.0, 1.0, 0.0);
        assert!(matches!(outcome, Err(Error::NotConverged { what: "square", .. })));
    }
}
