//! Viscosity index: how little an oil thins with heat, on an agreed scale.

use crate::method::Method;
use crate::units::KinematicViscosity;

/// How [`viscosity_index`] works.
pub const METHOD: Method = Method {
    id: "viscosity-index",
    title: "Viscosity index from the viscosities at 40 and 100 degrees C",
    equation: "Y viscosity at 100, U at 40 degrees C, in mm2/s. L and H: viscosity at 40 degrees of the reference oils of index 0 \
         and 100 with the same Y; L = a Y^2 + b Y + c, H = d Y^2 + e Y + f with the standard's constants by range of Y. U >= H: VI \
         = 100 (L - U)/(L - H). U < H: VI = 100 + (10^N - 1)/0.00715, N = log10(H/U)/log10(Y).",
    valid_for: "2 mm2/s and more at 100 degrees C; below, the index is not defined and not given. The standard's table and its \
         equations agree to about a tenth of a percent, so that the index may differ by a few tenths; it is quoted as a whole \
         number.",
    sources: &[
        "ASTM D2270, Standard Practice for Calculating Viscosity Index from Kinematic Viscosity at 40 and 100 degrees C (ISO 2909), \
         procedures A and B; constants of its table of equations from memory, compared with its table of values by the test suite",
    ],
};

/// Smallest viscosity at 100 degrees C (mm2/s) for which the index is defined.
const LEAST: f64 = 2.0;

/// From this Y on, the constants of L and of H.
struct Range {
    from: f64,
    l: [f64; 3],
    h: [f64; 3],
}

const fn range(from: f64, l: [f64; 3], h: [f64; 3]) -> Range {
    Range { from, l, h }
}

const RANGES: [Range; 16] = [
    range(2.0, [1.14673, 1.7576, -0.109], [0.84155, 1.5521, -0.077]),
    range(3.8, [3.38095, -15.4952, 33.196], [0.78571, 1.7929, -0.183]),
    range(4.4, [2.5000, -7.2143, 13.812], [0.82143, 1.5679, 0.119]),
    range(5.0, [0.10100, 16.6350, -45.469], [0.04985, 9.1613, -18.557]),
    range(6.4, [3.35714, -23.5643, 78.466], [0.22619, 7.7369, -16.656]),
    range(7.0, [0.01191, 21.4750, -72.870], [0.79762, -0.7321, 14.610]),
    range(7.7, [0.41858, 16.1558, -56.040], [0.05794, 10.5156, -28.240]),
    range(9.0, [0.88779, 7.5527, -16.600], [0.26665, 6.7015, -10.810]),
    range(12.0, [0.76720, 10.7972, -38.180], [0.20073, 8.4658, -22.490]),
    range(15.0, [0.97305, 5.3135, -2.200], [0.28889, 5.9741, -4.930]),
    range(18.0, [0.97256, 5.2500, -0.980], [0.24504, 7.4160, -16.730]),
    range(22.0, [0.91413, 7.4759, -21.820], [0.20323, 9.1267, -34.230]),
    range(28.0, [0.87031, 9.7157, -50.770], [0.18411, 10.1015, -46.750]),
    range(40.0, [0.84703, 12.6752, -133.310], [0.17029, 11.4866, -80.620]),
    range(55.0, [0.85921, 11.1009, -83.190], [0.17130, 11.3680, -76.940]),
    range(70.0, [0.83531, 14.6731, -216.246], [0.16841, 11.8493, -96.947]),
];

/// L and H in mm2/s.
fn references(y: f64) -> [f64; 2] {
    let held = RANGES.iter().rev().find(|range| y >= range.from).unwrap_or(&RANGES[0]);
    [held.l, held.h].map(|[square, linear, constant]| (square * y + linear) * y + constant)
}

/// The viscosity index, where it is defined.
///
/// **Equation** VI = 100 (L - U)/(L - H) up to 100; VI = 100 + (10^N - 1)/0.00715, N = log(H/U)/log(Y) above
///
/// **Shape** Scalars.
///
/// **Units** Kinematic viscosities in, a plain number out.
///
/// **Valid for** 2 mm2/s and more at 100 degrees C; nothing is given below.
///
/// **Errors** None.
///
/// **Source** ASTM D2270, procedures A and B.
#[must_use]
pub fn viscosity_index(at_40: KinematicViscosity, at_100: KinematicViscosity) -> Option<f64> {
    let (u, y) = (at_40.square_millimetres_per_second(), at_100.square_millimetres_per_second());
    // A viscosity given as 2 comes back from the line through the oil's points with an error in its last digits.
    if y < LEAST * (1.0 - 1e-9) {
        return None;
    }
    let [l, h] = references(y);
    Some(if u >= h { 100.0 * (l - u) / (l - h) } else { 100.0 + (10_f64.powf((h / u).ln() / y.ln()) - 1.0) / 0.00715 })
}

/// The viscosity at 40 degrees C of an oil of this index and viscosity at 100 degrees C.
///
/// **Equation** The equations of [`viscosity_index`] solved for U
///
/// **Shape** Scalars.
///
/// **Units** Kinematic viscosity and a plain number in, kinematic viscosity out.
///
/// **Valid for** 2 mm2/s and more at 100 degrees C; index 0 to 400.
///
/// **Errors** None.
///
/// **Source** ASTM D2270, procedures A and B.
#[must_use]
pub fn viscosity_at_40(at_100: KinematicViscosity, index: f64) -> KinematicViscosity {
    let y = at_100.square_millimetres_per_second();
    let [l, h] = references(y);
    let u = if index <= 100.0 {
        l - index / 100.0 * (l - h)
    } else {
        h / y.powf((1.0 + 0.00715 * (index - 100.0)).log10())
    };
    KinematicViscosity::from_square_millimetres_per_second(u)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn mm2(value: f64) -> KinematicViscosity {
        KinematicViscosity::from_square_millimetres_per_second(value)
    }

    proptest! {
        #[test]
        fn the_inverse_undoes_the_index(at_100 in 2.0..100.0, index in 0.0..350.0) {
            let back = viscosity_index(viscosity_at_40(mm2(at_100), index), mm2(at_100));
            prop_assert!(back.is_some_and(|back| (back - index).abs() < 1e-8), "{back:?} for {index}");
        }

        #[test]
        fn less_thinning_is_a_higher_index(at_100 in 2.0..100.0, at_40 in 3.0..1000.0) {
            prop_assert!(viscosity_index(mm2(at_40), mm2(at_100)) > viscosity_index(mm2(1.01 * at_40), mm2(at_100)));
        }

        #[test]
        fn neighbouring_ranges_meet(place in 1_usize..16) {
            let [below, above] = [1.0 - 1e-12, 1.0].map(|factor| references(RANGES[place].from * factor));
            for (below, above) in below.iter().zip(above) {
                prop_assert!((below / above - 1.0).abs() < 2e-3, "{below} {above} at {}", RANGES[place].from);
            }
        }
    }

    #[test]
    fn nothing_is_said_of_an_oil_too_thin_for_the_scale() {
        assert_eq!(viscosity_index(mm2(5.0), mm2(1.99)), None);
    }
}
