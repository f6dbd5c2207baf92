//! The stack from crank axis to deck: half the stroke, rod, piston and what is left.

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, Detail, STANDING, Severity};
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::units::{Length, Quantity};

use super::slider_crank::check_rod;

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "deck-stack",
    title: "Deck height from stroke, rod, piston and deck clearance",
    equation: "H = sqrt((L + S/2)^2 - e^2) + CH + c; without offset H = S/2 + L + CH + c. H deck height, S the crank's stroke \
         (twice its radius), L rod length, e pin offset, CH compression height, c deck clearance, positive when the piston stops \
         below the deck. Squish clearance = c + compressed gasket thickness.",
    valid_for: "Cold, unloaded parts; a flat crown, or CH measured to the crown's flat. Rod stretch, piston rock and bearing \
         clearances are not in it.",
    sources: &[
        "First principles (the dimensions lie in one line at top centre)",
        "ISO 7967-2, Reciprocating internal combustion engines, vocabulary: main running gear (compression height of the piston)",
    ],
};

/// Squish clearances below this, and above the second, are worth a caution.
pub(crate) const TIGHT_SQUISH: Length = Length::from_inches(0.035);
pub(crate) const LOOSE_SQUISH: Length = Length::from_inches(0.060);

/// The five dimensions, at most one of them left out.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "at_most_one_left_out", skip_on_field_errors = false))]
#[validate(schema(function = "rod_clears_crank", skip_on_field_errors = false))]
pub struct DeckStackInput {
    /// Crank axis to the block's deck.
    #[validate(custom(function = "limit::deck_height"))]
    pub deck_height: Option<Length>,
    /// The crank's stroke: twice its radius.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Option<Length>,
    /// Connecting rod length between the centres of its eyes.
    #[validate(custom(function = "limit::rod_length"))]
    pub rod_length: Option<Length>,
    /// Pin axis to the flat of the crown.
    #[validate(custom(function = "limit::compression_height"))]
    pub compression_height: Option<Length>,
    /// Positive when the piston stops below the deck.
    #[validate(custom(function = "limit::deck_clearance"))]
    pub deck_clearance: Option<Length>,
    /// Pin offset, either way.
    #[validate(custom(function = "limit::pin_offset"))]
    pub pin_offset: Length,
    /// Compressed thickness of the head gasket, for the squish clearance.
    #[validate(custom(function = "limit::gasket_thickness"))]
    pub gasket_thickness: Option<Length>,
}

/// Which of the five was solved for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Crank axis to deck.
    DeckHeight,
    /// The crank's stroke.
    Stroke,
    /// Rod length.
    RodLength,
    /// Compression height.
    CompressionHeight,
    /// Deck clearance.
    DeckClearance,
}

/// The stack complete.
#[derive(Debug, Clone, PartialEq)]
pub struct DeckStack {
    /// Crank axis to the block's deck.
    pub deck_height: Length,
    /// The crank's stroke.
    pub stroke: Length,
    /// Connecting rod length.
    pub rod_length: Length,
    /// Compression height.
    pub compression_height: Length,
    /// Deck clearance.
    pub deck_clearance: Length,
    /// What was solved for; none when all five were given.
    pub solved_for: Option<Unknown>,
    /// Deck height given less what the other four add up to; only when all five were given.
    pub closing_error: Option<Length>,
    /// Deck clearance plus compressed gasket.
    pub squish_clearance: Option<Length>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

fn at_most_one_left_out(input: &DeckStackInput) -> Result<(), ValidationError> {
    let missing: Vec<_> = [
        ("deck_height", input.deck_height),
        ("stroke", input.stroke),
        ("rod_length", input.rod_length),
        ("compression_height", input.compression_height),
        ("deck_clearance", input.deck_clearance),
    ]
    .into_iter()
    .filter_map(|(name, value)| value.is_none().then_some(name))
    .collect();
    if missing.len() <= 1 {
        return Ok(());
    }
    Err(broken_rule(
        "",
        "under_determined",
        format!("{} are all missing; at most one of the five can be solved for.", missing.join(", ")),
    ))
}

fn rod_clears_crank(input: &DeckStackInput) -> Result<(), ValidationError> {
    match (input.stroke, input.rod_length) {
        (Some(stroke), Some(rod)) => check_rod("rod_length", "pin_offset", stroke, rod, input.pin_offset),
        _ => Ok(()),
    }
}

/// Height of the piston pin above the crank axis at top centre.
///
/// **Equation** h = sqrt((L + S/2)^2 - e^2)
///
/// **Shape** Scalars.
///
/// **Units** Lengths.
///
/// **Valid for** |e| <= L + S/2.
///
/// **Errors** None.
///
/// **Source** First principles: crank and rod lie in one line at true top centre.
#[must_use]
pub fn pin_height_at_top_centre(stroke: Length, rod_length: Length, pin_offset: Length) -> Length {
    let reach = rod_length.metres() + stroke.metres() / 2.0;
    Length::from_metres((reach * reach - pin_offset.metres() * pin_offset.metres()).sqrt())
}

/// The stack with its one missing dimension, or its closing error when none is missing.
///
/// **Equation** H = sqrt((L + S/2)^2 - e^2) + CH + c, solved for whichever is missing.
///
/// **Shape** Scalars.
///
/// **Units** Lengths.
///
/// **Valid for** Cold, unloaded parts; rod longer than the stroke; |e| at most S/4.
///
/// **Errors** [`Error::Invalid`] when more than one is missing or one is out of range; [`Error::NoSolution`] when the solved
/// dimension is outside its own range (a stroke that would have to be negative, say).
///
/// **Source** First principles.
pub fn evaluate(input: &DeckStackInput) -> Result<DeckStack, Error> {
    input.validate()?;
    let offset = input.pin_offset;
    let metres = |length: Option<Length>| length.unwrap_or_default().metres();
    let (height, clearance) = (metres(input.deck_height), metres(input.deck_clearance));
    let (stroke, rod, crown) = (metres(input.stroke), metres(input.rod_length), metres(input.compression_height));
    let pin = pin_height_at_top_centre(Length::from_metres(stroke), Length::from_metres(rod), offset).metres();
    // What rod and half the stroke must reach together, when one of them is unknown.
    let reach = (height - crown - clearance).hypot(offset.metres());
    let (solved_for, value) = match input {
        DeckStackInput { deck_height: None, .. } => (Unknown::DeckHeight, pin + crown + clearance),
        DeckStackInput { stroke: None, .. } => (Unknown::Stroke, 2.0 * (reach - rod)),
        DeckStackInput { rod_length: None, .. } => (Unknown::RodLength, reach - stroke / 2.0),
        DeckStackInput { compression_height: None, .. } => (Unknown::CompressionHeight, height - pin - clearance),
        DeckStackInput { deck_clearance: None, .. } => (Unknown::DeckClearance, height - pin - crown),
        _ => return finish(input, None, Some(Length::from_metres(height - pin - crown - clearance))),
    };
    let value = Some(solved(solved_for, Length::from_metres(value))?);
    let mut complete = input.clone();
    match solved_for {
        Unknown::DeckHeight => complete.deck_height = value,
        Unknown::Stroke => complete.stroke = value,
        Unknown::RodLength => complete.rod_length = value,
        Unknown::CompressionHeight => complete.compression_height = value,
        Unknown::DeckClearance => complete.deck_clearance = value,
    }
    rod_clears_crank(&complete)
        .map_err(|error| Error::NoSolution { field: "", detail: error.message.unwrap_or_default().into_owned() })?;
    finish(&complete, Some(solved_for), None)
}

fn solved(unknown: Unknown, value: Length) -> Result<Length, Error> {
    let (field, name, limit) = match unknown {
        Unknown::DeckHeight => ("deck_height", "deck height", limit::DECK_HEIGHT),
        Unknown::Stroke => ("stroke", "stroke", limit::STROKE),
        Unknown::RodLength => ("rod_length", "rod length", limit::ROD_LENGTH),
        Unknown::CompressionHeight => ("compression_height", "compression height", limit::COMPRESSION_HEIGHT),
        Unknown::DeckClearance => ("deck_clearance", "deck clearance", limit::DECK_CLEARANCE),
    };
    match limit.check(&value) {
        Ok(()) => Ok(value),
        Err(_) => Err(Error::NoSolution {
            field,
            detail: format!(
                "the others leave a {name} of {}; one from {} to {} can be built.",
                value.shown(),
                limit.min.shown(),
                limit.max.shown()
            ),
        }),
    }
}

fn finish(
    input: &DeckStackInput,
    solved_for: Option<Unknown>,
    closing_error: Option<Length>,
) -> Result<DeckStack, Error> {
    let missing = || Error::NoSolution { field: "", detail: "a dimension is missing.".to_owned() };
    let deck_clearance = input.deck_clearance.ok_or_else(missing)?;
    let squish_clearance =
        input.gasket_thickness.map(|gasket| Length::from_metres(deck_clearance.metres() + gasket.metres()));
    let stack = DeckStack {
        deck_height: input.deck_height.ok_or_else(missing)?,
        stroke: input.stroke.ok_or_else(missing)?,
        rod_length: input.rod_length.ok_or_else(missing)?,
        compression_height: input.compression_height.ok_or_else(missing)?,
        deck_clearance,
        solved_for,
        closing_error,
        squish_clearance,
        cautions: Vec::new(),
    };
    Ok(DeckStack { cautions: cautions(input, &stack), ..stack })
}

fn cautions(input: &DeckStackInput, stack: &DeckStack) -> Vec<Caution> {
    let mut cautions = Vec::new();
    limit::DECK_HEIGHT.unusual("deck_height", stack.deck_height, &mut cautions);
    limit::STROKE.unusual("stroke", stack.stroke, &mut cautions);
    limit::ROD_LENGTH.unusual("rod_length", stack.rod_length, &mut cautions);
    limit::COMPRESSION_HEIGHT.unusual("compression_height", stack.compression_height, &mut cautions);
    limit::DECK_CLEARANCE.unusual("deck_clearance", stack.deck_clearance, &mut cautions);
    limit::PIN_OFFSET.unusual("pin_offset", input.pin_offset, &mut cautions);
    if let Some(gasket) = input.gasket_thickness {
        limit::GASKET_THICKNESS.unusual("gasket_thickness", gasket, &mut cautions);
    }
    cautions.extend(stack.squish_clearance.and_then(|squish| squish_caution("squish_clearance", squish)));
    cautions.push(STANDING);
    cautions
}

/// The caution for a squish clearance that is too small to be safe, or too large to do its work.
pub(crate) fn squish_caution(path: &'static str, squish: Length) -> Option<Caution> {
    let (code, severity, _) = judge_squish(squish)?;
    let detail = Detail::of([squish.si(), 0.0, 0.0], squish_text);
    Some(Caution { code, severity, about: About::Answer, path: path.into(), detail, source: COMMON_PRACTICE })
}

/// Code, severity and reason for a clearance that is not usual.
fn judge_squish(squish: Length) -> Option<(&'static str, Severity, &'static str)> {
    if squish <= Length::default() {
        Some(("piston_meets_head", Severity::Danger, "the crown's flat reaches the head"))
    } else if squish < TIGHT_SQUISH {
        Some(("squish_tight", Severity::Danger, "rod stretch, piston rock and heat can close it at speed"))
    } else if squish > LOOSE_SQUISH {
        Some(("squish_loose", Severity::Note, "it mixes little and is prone to knock"))
    } else {
        None
    }
}

fn squish_text([squish, ..]: [f64; 3]) -> String {
    let squish = Length::from_si(squish);
    let why = judge_squish(squish).map_or("usual", |(_, _, why)| why);
    format!(
        "Squish clearance {}: {why}. With steel rods {} to {} is usual.",
        squish.shown(),
        TIGHT_SQUISH.shown(),
        LOOSE_SQUISH.shown()
    )
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn stack(stroke: f64, rod: f64, crown: f64, clearance: f64, offset: f64) -> DeckStackInput {
        DeckStackInput {
            deck_height: None,
            stroke: Some(Length::from_inches(stroke)),
            rod_length: Some(Length::from_inches(rod)),
            compression_height: Some(Length::from_inches(crown)),
            deck_clearance: Some(Length::from_inches(clearance)),
            pin_offset: Length::from_inches(offset),
            gasket_thickness: None,
        }
    }

    proptest! {
        #[test]
        fn whichever_is_left_out_comes_back(
            stroke in 2.0..5.0, rod in 5.5..8.0, crown in 1.0..2.0, clearance in -0.05..0.1, offset in -0.1..0.1,
        ) {
            let input = stack(stroke, rod, crown, clearance, offset);
            let deck_height = Some(evaluate(&input)?.deck_height);
            let whole = DeckStackInput { deck_height, ..input };
            let closing = evaluate(&whole)?.closing_error.map_or(1.0, Length::metres);
            prop_assert!(closing.abs() < 1e-12);
            let near = |found: Length, wanted: f64| (found.inches() - wanted).abs() < 1e-11;
            let without = |change: fn(&mut DeckStackInput)| {
                let mut input = whole.clone();
                change(&mut input);
                evaluate(&input)
            };
            let stroke_found = without(|input| input.stroke = None)?.stroke;
            let rod_found = without(|input| input.rod_length = None)?.rod_length;
            let clearance_found = without(|input| input.deck_clearance = None)?.deck_clearance;
            let crown_found = without(|input| input.compression_height = None)?.compression_height;
            prop_assert!(near(stroke_found, stroke));
            prop_assert!(near(rod_found, rod));
            prop_assert!(near(clearance_found, clearance));
            prop_assert!(near(crown_found, crown));
        }
    }
}
