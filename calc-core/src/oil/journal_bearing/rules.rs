//! What the parts of a bearing must have to do with each other.

use std::f64::consts::PI;

use validator::{Validate, ValidationError};

use crate::error::{Error, all_faults, broken_rule};
use crate::oil::bearing_film::WIDTHS;
use crate::oil::checked_oil::checked_oil;
use crate::oil::law::OilLaw;
use crate::units::{Length, Quantity};

use super::{Groove, JournalBearingInput};

/// Clearance over diameter that a journal bearing can have.
const CLEARANCE_RATIO: [f64; 2] = [0.000_05, 0.02];
/// Widest hole over width of the bearing.
const WIDEST_HOLE: f64 = 0.5;

/// Sizes that follow, in SI units; what a kind of groove does not have is zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Geometry {
    pub(super) width: f64,
    pub(super) land: f64,
    pub(super) groove_arc: f64,
    pub(super) hole_diameter: f64,
    pub(super) feed_position: f64,
}

/// The oil's law and the bearing's sizes, when all rules hold.
pub(super) fn checked(input: &JournalBearingInput) -> Result<(OilLaw, Geometry), Error> {
    // All of the request's own faults at once, and only then those that take an oil to find.
    let fields = input.validate();
    let faults = broken(input, fields.is_ok());
    all_faults(fields, faults)?;
    let law = checked_oil(Ok(()), &input.oil, "supply_temperature", input.supply_temperature)?;
    if let Some(film) = input.film_temperature {
        checked_oil(Ok(()), &input.oil, "film_temperature", film)?;
    }
    Ok((law, geometry(input)))
}

fn geometry(input: &JournalBearingInput) -> Geometry {
    let groove_width = input.groove_width.unwrap_or_default().metres();
    let width = match (input.width, input.land) {
        (Some(width), _) => width.metres(),
        (None, land) => 2.0 * land.unwrap_or_default().metres() + groove_width,
    };
    Geometry {
        width,
        land: (width - groove_width) / 2.0,
        groove_arc: input.groove_arc.unwrap_or_default().radians(),
        hole_diameter: input.hole_diameter.unwrap_or_default().metres(),
        feed_position: input.feed_position.map_or(PI, |position| position.radians()),
    }
}

/// Broken rules; sizes are compared only when each is sound by itself.
fn broken(input: &JournalBearingInput, fields_are_sound: bool) -> Vec<ValidationError> {
    let mut faults = Vec::new();
    load(input, &mut faults);
    feed_fields(input, &mut faults);
    widths(input, &mut faults);
    if fields_are_sound && faults.is_empty() {
        sizes(input, &mut faults);
    }
    faults
}

fn missing(field: &str, detail: &str) -> ValidationError {
    broken_rule(field, "missing", detail.to_owned())
}

fn load(input: &JournalBearingInput, faults: &mut Vec<ValidationError>) {
    match (&input.load, &input.engine_load) {
        (Some(_), Some(_)) => {
            let detail = "stands beside load; give one of the two.";
            faults.push(broken_rule("engine_load", "over_determined", detail.to_owned()));
        }
        (None, None) => faults.push(missing("load", "is missing: give it or engine_load.")),
        _ => {}
    }
}

/// Every kind of groove has fields that it needs and fields that mean nothing to it.
fn feed_fields(input: &JournalBearingInput, faults: &mut Vec<ValidationError>) {
    use Groove as G;
    let fields: [(&str, bool, &[Groove], bool); 5] = [
        ("groove_width", input.groove_width.is_some(), &[G::Full, G::PartialArc], true),
        ("groove_arc", input.groove_arc.is_some(), &[G::PartialArc], true),
        ("hole_diameter", input.hole_diameter.is_some(), &[G::SingleHole], true),
        ("feed_position", input.feed_position.is_some(), &[G::PartialArc, G::SingleHole], false),
        ("supply_pressure", input.supply_pressure.is_some(), &[G::Full, G::PartialArc, G::SingleHole], true),
    ];
    for (field, given, grooves, needed) in fields {
        let belongs = grooves.contains(&input.groove);
        if given && !belongs {
            let detail = "means nothing with this kind of groove; leave it out or choose another groove.";
            faults.push(broken_rule(field, "contradiction", detail.to_owned()));
        } else if needed && belongs && !given {
            faults.push(missing(field, "is missing: this kind of groove needs it."));
        }
    }
}

fn widths(input: &JournalBearingInput, faults: &mut Vec<ValidationError>) {
    match (input.width, input.land) {
        (Some(_), Some(_)) => {
            let detail = "stands beside width; give one of the two.";
            faults.push(broken_rule("land", "over_determined", detail.to_owned()));
        }
        (None, None) => faults.push(missing("width", "is missing: give it, or the land beside a groove.")),
        (None, Some(_)) if !matches!(input.groove, Groove::Full | Groove::PartialArc) => {
            let detail = "is beside a groove, and there is none; give the width.";
            faults.push(broken_rule("land", "contradiction", detail.to_owned()));
        }
        _ => {}
    }
}

fn sizes(input: &JournalBearingInput, faults: &mut Vec<ValidationError>) {
    let sizes = geometry(input);
    let diameter = input.diameter.metres();
    let contradiction = |field: &str, detail: String| broken_rule(field, "contradiction", detail);
    let given_width = if input.width.is_some() { "width" } else { "land" };
    if sizes.land <= 0.0 {
        faults.push(contradiction(
            "groove_width",
            format!(
                "must be less than the width of the bearing, {}: no land would be left.",
                Length::from_metres(sizes.width).shown()
            ),
        ));
        return;
    }
    let (what, width) = match input.groove {
        Groove::Full => ("land", sizes.land),
        _ => ("bearing", sizes.width),
    };
    let [narrowest, widest] = WIDTHS.map(|ratio| Length::from_metres(ratio * diameter));
    let width = Length::from_metres(width);
    if width < narrowest || width > widest {
        faults.push(contradiction(
            given_width,
            format!(
                "makes a {what} {} wide; the film is tabulated from {} to {} ({} to {} of the diameter).",
                width.shown(),
                narrowest.shown(),
                widest.shown(),
                WIDTHS[0],
                WIDTHS[1]
            ),
        ));
    }
    let [tightest, loosest] = CLEARANCE_RATIO.map(|ratio| Length::from_metres(ratio * diameter));
    if input.clearance < tightest || input.clearance > loosest {
        faults.push(contradiction(
            "clearance",
            format!(
                "must be from {} to {} ({} to {} of the diameter) for a film bearing; got {}.",
                tightest.shown(),
                loosest.shown(),
                CLEARANCE_RATIO[0],
                CLEARANCE_RATIO[1],
                input.clearance.shown()
            ),
        ));
    }
    if sizes.hole_diameter > WIDEST_HOLE * sizes.width {
        faults.push(contradiction(
            "hole_diameter",
            format!(
                "must be at most half the width of the bearing, {}; got {}.",
                Length::from_metres(WIDEST_HOLE * sizes.width).shown(),
                Length::from_metres(sizes.hole_diameter).shown()
            ),
        ));
    }
    if let Some(film) = input.film_temperature.filter(|film| *film < input.supply_temperature) {
        faults.push(contradiction(
            "film_temperature",
            format!("must not be below the supply's, {}; got {}.", input.supply_temperature.shown(), film.shown()),
        ));
    }
}
