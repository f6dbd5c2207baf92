//! Solving the static ratio for one part, and saying how near one gets where there is no such part.

use std::f64::consts::PI;

use crate::error::Error;
use crate::geometry::displacement::cylinder_volume;
use crate::limit::{self, Limit};
use crate::units::{Length, Quantity, Volume};

use super::area_profile::AreaProfile;
use super::r#static::{self, StaticInput, check_top_land, volumes};
use super::target::{NAMES, TargetInput, Unknown};

/// What is given, with nothing in the place of the unknown.
pub(crate) fn known(input: &TargetInput) -> StaticInput {
    StaticInput {
        bore: input.bore.unwrap_or_default(),
        stroke: input.stroke.unwrap_or_default(),
        chamber_volume: input.chamber_volume.unwrap_or_default(),
        gasket_bore: input.gasket_bore,
        gasket_area: input.gasket_area,
        gasket_thickness: input.gasket_thickness.unwrap_or_default(),
        deck_clearance: input.deck_clearance.unwrap_or_default(),
        dish_volume: input.dish_volume.unwrap_or_default(),
        dome_volume: input.dome_volume.unwrap_or_default(),
        top_land_height: input.top_land_height,
        top_land_diameter: input.top_land_diameter,
        readings: None,
    }
}

/// The parts with the unknown in its place, in SI units of whatever it is.
fn with(known: &StaticInput, unknown: Unknown, value: f64) -> StaticInput {
    let mut parts = known.clone();
    let (length, volume) = (Length::from_metres(value), Volume::from_cubic_metres(value));
    match unknown {
        Unknown::Chamber | Unknown::HeadCut => parts.chamber_volume = volume,
        Unknown::Dish => parts.dish_volume = volume,
        Unknown::Dome => parts.dome_volume = volume,
        Unknown::GasketThickness => parts.gasket_thickness = length,
        Unknown::GasketBore => parts.gasket_bore = Some(length),
        Unknown::DeckClearance | Unknown::CompressionHeight => parts.deck_clearance = length,
        Unknown::Stroke => parts.stroke = length,
        Unknown::Bore => parts.bore = length,
    }
    parts
}

/// Name and accepted range of the unknown, in SI units.
fn range(unknown: Unknown) -> (&'static str, [f64; 2], fn(f64) -> String) {
    fn of<Q: Quantity>(name: &'static str, limit: Limit<Q>) -> (&'static str, [f64; 2], fn(f64) -> String) {
        (name, [limit.min.si(), limit.max.si()], |value| Q::from_si(value).shown())
    }
    match unknown {
        Unknown::Chamber | Unknown::HeadCut => of("chamber", limit::CHAMBER_VOLUME),
        Unknown::Dish => of("dish", limit::CROWN_VOLUME),
        Unknown::Dome => of("dome", limit::CROWN_VOLUME),
        Unknown::GasketThickness => of("gasket thickness", limit::GASKET_THICKNESS),
        Unknown::GasketBore => of("gasket bore", limit::GASKET_BORE),
        Unknown::DeckClearance | Unknown::CompressionHeight => of("deck clearance", limit::DECK_CLEARANCE),
        Unknown::Stroke => of("stroke", limit::STROKE),
        Unknown::Bore => of("bore", limit::BORE),
    }
}

/// The parts with the unknown solved for, or the nearest that can be had.
pub(crate) fn solve(input: &TargetInput, known: &StaticInput) -> Result<StaticInput, Error> {
    let (_, [least, most], _) = range(input.unknown);
    let value = off_the_end(closed_form(input, known), least);
    let height = |parts: &StaticInput| match input.pin_to_deck {
        Some(pin) => {
            limit::COMPRESSION_HEIGHT.check(&Length::from_metres(pin.metres() - parts.deck_clearance.metres())).is_ok()
        }
        None => true,
    };
    let parts = with(known, input.unknown, value);
    let land_fits = check_top_land(&NAMES, parts.bore, parts.top_land_height, parts.top_land_diameter).is_ok();
    // Also false for a value that is not a number.
    if value >= least && value <= most && volumes(&parts).clearance() > Volume::default() && height(&parts) && land_fits
    {
        return Ok(parts);
    }
    Err(unreachable_ratio(input, known, value))
}

/// A part that is at the end of its range may come out a rounding error below it.
fn off_the_end(value: f64, least: f64) -> f64 {
    /// In cubic metres a millionth of a cubic centimetre, in metres less than an atom.
    const ROUNDING: f64 = 1e-12;
    if value < least && value > least - ROUNDING { least } else { value }
}

/// The unknown from the clearance volume that the ratio needs, whether or not it can be made.
fn closed_form(input: &TargetInput, known: &StaticInput) -> f64 {
    let part = input.target_ratio.plain() - 1.0;
    let (bore, stroke) = (known.bore.metres(), known.stroke.metres());
    let circle = PI / 4.0 * bore * bore;
    let others = volumes(known).clearance().cubic_metres();
    let lacking = circle * stroke / part - others;
    match input.unknown {
        Unknown::Chamber | Unknown::HeadCut | Unknown::Dish => lacking,
        Unknown::Dome => -lacking,
        Unknown::GasketThickness => {
            let per_length = StaticInput { gasket_thickness: Length::from_metres(1.0), ..known.clone() };
            lacking / volumes(&per_length).gasket.cubic_metres()
        }
        // Not a number where no opening is small enough.
        Unknown::GasketBore => (lacking / (PI / 4.0 * known.gasket_thickness.metres())).sqrt(),
        Unknown::DeckClearance | Unknown::CompressionHeight => lacking / circle,
        Unknown::Stroke => part * others / circle,
        Unknown::Bore => {
            let land = known.top_land_height.zip(known.top_land_diameter).map_or(0.0, |(height, _)| height.metres());
            (part * others / (PI / 4.0 * (stroke - part * (known.deck_clearance.metres() + land)))).sqrt()
        }
    }
}

/// The refusal, with the nearest ratio at either end of the unknown's range.
fn unreachable_ratio(input: &TargetInput, known: &StaticInput, value: f64) -> Error {
    let (name, ends, shown) = range(input.unknown);
    let wanted = input.target_ratio.plain();
    let at = |end: f64| Some((end, static_ratio(&with(known, input.unknown, end))?));
    let off = |(_, ratio): &(f64, f64)| (ratio - wanted).abs();
    let nearest = ends.into_iter().filter_map(at).min_by(|one, other| off(one).total_cmp(&off(other)));
    let nearest = nearest.map_or_else(
        || " No size of it leaves any clearance volume.".to_owned(),
        |(end, ratio)| format!(" The nearest is a ratio of {ratio:.3}, at {}.", shown(end)),
    );
    let needs = if value.is_finite() {
        format!("it would have to be {}, which cannot be built with the other parts", shown(value))
    } else {
        "no size of it goes with the other parts".to_owned()
    };
    Error::NoSolution {
        field: "target_ratio",
        detail: format!("of {wanted} cannot be had by the {name} alone: {needs}.{nearest}"),
    }
}

fn static_ratio(parts: &StaticInput) -> Option<f64> {
    r#static::ratio(&NAMES, cylinder_volume(parts.bore, parts.stroke), volumes(parts).clearance()).ok()
}

/// The chamber after the cut that gives the ratio, and that cut.
pub(crate) fn head_cut(input: &TargetInput, known: &StaticInput) -> Result<(StaticInput, Option<Length>), Error> {
    let profile = AreaProfile::from_levels(input.head_levels.as_deref().unwrap_or_default());
    let wanted = input.target_ratio.plain();
    let swept = cylinder_volume(known.bore, known.stroke).cubic_metres();
    let removed = off_the_end(volumes(known).clearance().cubic_metres() - swept / (wanted - 1.0), 0.0);
    let chamber = known.chamber_volume.cubic_metres();
    let most = profile.whole().min(chamber);
    if (0.0..=most).contains(&removed) {
        let cut = Length::from_metres(profile.depth_for("target_ratio", removed)?);
        return Ok((with(known, Unknown::HeadCut, chamber - removed), Some(cut)));
    }
    let end = if removed < 0.0 { 0.0 } else { most };
    let nearest = static_ratio(&with(known, Unknown::HeadCut, chamber - end));
    let nearest = nearest.map_or(String::new(), |ratio| format!(" The nearest is a ratio of {ratio:.3}."));
    let why = if removed < 0.0 {
        "it is below the ratio without any cut, and a cut only raises it".to_owned()
    } else {
        let [removed, most] = [removed, most].map(|volume| Volume::from_cubic_metres(volume).shown());
        format!("{removed} would have to go, and the profile holds {most}; nothing is assumed below it")
    };
    Err(Error::NoSolution {
        field: "target_ratio",
        detail: format!("of {wanted} cannot be had by a cut: {why}.{nearest}"),
    })
}
