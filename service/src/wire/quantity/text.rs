//! Numbers as text, with or without a unit.

use calc_core::units::{Quantity, Unit};

use super::Given;

/// Reads "107.95 mm", "4.03" or ".125"; the message says what would be right.
pub(super) fn read<Q: Quantity>(text: &str) -> Result<Given, String> {
    let text = trimmed(text);
    // Most have no unit.
    if let Some(value) = bare(text).filter(|value| is_sound(*value)) {
        return Ok(Given { value, unit: None });
    }
    let end = number_length(text);
    let (digits, symbol) = (&text[..end], text[end..].trim());
    let Some(value) = bare(digits) else {
        return Err(not_a_number::<Q>(text));
    };
    if !value.is_finite() {
        return Err(format!("'{text}' is too large a number."));
    }
    if !is_sound(value) {
        return Err(too_small(digits));
    }
    if symbol.starts_with(',') {
        return Err(not_a_number::<Q>(text));
    }
    match Q::unit(symbol) {
        Some(unit) => Ok(Given { value, unit: Some(unit) }),
        None => Err(format!("'{symbol}' is not a unit of {} known here; use one of {}.", Q::NAME, symbols::<Q>())),
    }
}

/// A number without a unit: those of the standard library, in two thirds of its instructions, and a table is little but numbers.
/// Two of them are no decimals, "inf" and "nan"; they are not sound.
pub(crate) fn bare(text: &str) -> Option<f64> {
    fast_float2::parse(text).ok()
}

/// A smaller number that is not zero measures nothing, and its square would vanish.
const SMALLEST: f64 = 1e-100;

/// Whether a number can be calculated with.
pub(crate) fn is_sound(value: f64) -> bool {
    value.is_finite() && (value == 0.0 || value.abs() >= SMALLEST)
}

/// What is wrong with one that is too near to zero.
pub(crate) fn too_small(text: &str) -> String {
    format!("'{text}' is too small a number; give 0, or at least {SMALLEST:e}.")
}

/// A text without the space around it; most have none, and those are not searched for it.
pub(crate) fn trimmed(text: &str) -> &str {
    match text.as_bytes() {
        [first, .., last] if first.is_ascii_graphic() && last.is_ascii_graphic() => text,
        [only] if only.is_ascii_graphic() => text,
        _ => text.trim(),
    }
}

pub(super) fn symbols<Q: Quantity>() -> String {
    Q::UNITS.iter().map(Unit::symbol).collect::<Vec<_>>().join(", ")
}

/// A number as it may be written, with a unit where the quantity has one.
fn sample<Q: Quantity>() -> String {
    format!("4.03 {}", Q::SHOP[0]).trim_end().to_owned()
}

fn not_a_number<Q: Quantity>(text: &str) -> String {
    if text.is_empty() {
        return format!("is empty; give a number, or text with a unit such as \"{}\".", sample::<Q>());
    }
    let shown: String = text.chars().take(40).collect();
    if text.contains(',') {
        return format!("'{shown}' is not a number; use a point as the decimal separator.");
    }
    format!("'{shown}' is not a number with or without a unit; write for example \"{}\".", sample::<Q>())
}

/// How many bytes of `text` are a decimal number: sign, digits, one point, exponent.
fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits_from = |mut at: usize| {
        while bytes.get(at).is_some_and(u8::is_ascii_digit) {
            at += 1;
        }
        at
    };
    let mut at = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    at = digits_from(at);
    if bytes.get(at) == Some(&b'.') {
        at = digits_from(at + 1);
    }
    if matches!(bytes.get(at), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(at + 1), Some(b'+' | b'-')));
        let end = digits_from(at + 1 + sign);
        if end > at + 1 + sign {
            at = end;
        }
    }
    at
}
