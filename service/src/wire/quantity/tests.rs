use calc_core::units::Length;
use proptest::prelude::*;

use super::*;

proptest! {
    #[test]
    fn numbers_are_read_as_the_standard_library_reads_them(
        text in "[-+]?([0-9]{0,20}\\.?[0-9]{0,20}(e[-+]?[0-9]{0,3})?|[0-9.]{0,5}|inf|nan)", long in "[0-9]{1,4}\\.[0-9]{15,40}"
    ) {
        for text in [text, long] {
            let wanted = text.parse::<f64>().ok().filter(|value| is_sound(*value));
            let found = read::<Length>(&text).ok().map(|given| given.value);
            prop_assert_eq!(found.map(f64::to_bits), wanted.map(f64::to_bits), "{}", text);
        }
    }
}

#[test]
fn numbers_and_units_are_read_as_shops_write_them() {
    for (text, metres) in [
        ("107.95 mm", 0.10795),
        (" 4.25in ", 0.10795),
        (".125 in", 0.003_175),
        ("1e-3m", 0.001),
        ("1E-05 m", 0.00001),
        ("41 thou", 0.001_041_4),
        ("+5. mm", 0.005),
    ] {
        let given = read::<Length>(text).unwrap();
        assert!((given.unit.unwrap().to_si(given.value) - metres).abs() < 1e-15, "{text}");
    }
    assert_eq!(read::<Length>("-.125"), Ok(Given { value: -0.125, unit: None }));
}

#[test]
fn a_result_that_is_not_finite_is_an_error_and_not_a_null() {
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(serde_json::to_string(&LengthOutput(value)).is_err());
        assert!(serde_json::to_string(&RatioOutput(value)).is_err());
        assert!(serde_json::to_string(&PercentOutput(value)).is_err());
    }
}

#[test]
fn what_is_no_number_is_refused_with_a_hint() {
    for (text, hint) in [
        ("4,03", "use a point"),
        ("4.03 furlongs", "is not a unit of length known here"),
        ("", "is empty"),
        ("NaN", "is not a number"),
        ("inf", "is not a number"),
        ("1e999", "too large"),
        ("1e-320 in", "too small a number; give 0, or at least 1e-100"),
        ("-1e-101", "too small"),
        ("4.03.1 in", "is not a unit"),
        ("--4", "is not a number"),
    ] {
        let message = read::<Length>(text).unwrap_err();
        assert!(message.contains(hint), "{text}: {message}");
    }
}

#[test]
fn bare_numbers_have_the_factor_of_the_unit_they_are_said_to_have() {
    let inch = LengthInput(Given { value: 1.0, unit: None }).core(Units::Inch);
    let written = LengthInput(read::<Length>("1 in").unwrap()).core(Units::Metric);
    assert_eq!(inch, written);
    for kind in KINDS {
        // The unit of a plain number is not written.
        for unit in kind.units.into_iter().filter(|unit| *unit != "1") {
            assert!((kind.check_text)(&format!("1 {unit}")).is_ok(), "{} in {unit}", kind.schema);
        }
    }
}
