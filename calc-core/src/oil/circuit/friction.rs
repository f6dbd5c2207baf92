//! Darcy friction factor of a round passage.

/// The factor, and d ln(factor)/d ln(Reynolds number), after Churchill: 8 ((8/Re)^12 + (A + B)^-1.5)^(1/12).
pub(super) fn churchill(reynolds: f64, roughness: f64) -> (f64, f64) {
    let seventh = (7.0 / reynolds).powf(0.9);
    let inside = seventh + 0.27 * roughness;
    let log = -2.457 * inside.ln();
    let fourth = |x: f64| (x * x) * (x * x);
    let sixteenth = |x: f64| fourth(fourth(x));
    let (a, b) = (sixteenth(log), sixteenth(37_530.0 / reynolds));
    let laminar = fourth(8.0 / reynolds) * fourth(8.0 / reynolds) * fourth(8.0 / reynolds);
    let rough = 1.0 / ((a + b) * (a + b).sqrt());
    let sum = laminar + rough;
    let a_growth = 16.0 * a / log * 2.457 * 0.9 * seventh / inside;
    let growth = (-laminar - 0.125 * rough * (a_growth - 16.0 * b) / (a + b)) / sum;
    (8.0 * sum.powf(1.0 / 12.0), growth)
}
