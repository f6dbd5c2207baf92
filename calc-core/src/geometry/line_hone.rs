//! Main housings closed at their caps and honed in line: where the crank axis goes, and what that changes.

use validator::Validate;

use crate::build::evaluate::Missing;
use crate::caution::Caution;
use crate::error::{Error, contradiction};
use crate::limit;
use crate::method::Method;
use crate::units::{Angle, Length};

use super::chain_loop::{loop_length, run_length, sag};

mod cautions;
mod rules;
#[cfg(test)]
mod tests;

use cautions::cautions;
use rules::{chain_has_its_camshaft, count_of_housings, finished_is_largest, housings_in_order, no_room};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "line-hone",
    title: "Movement of the crank axis when the main housings are line-honed",
    equation: "saddle at d, cap at d - D + k after the cut; d deviation of the saddle from the line through the end saddles, \
         positive towards the deck, D size, k cap cut. A hone takes as much from saddle as from cap, so that its axis is the \
         least-squares line of the centres d - D/2 + k/2; a boring bar goes where it is set. Movement m = new axis - line through \
         the old centres of the end housings; in a straight block m = k/2. Stock of saddle = axis + D1/2 - d, of cap = \
         d - D + k - axis + D1/2, D1 finished size. Deck height falls by m cos a, a angle of the bore to the normal of the parting \
         faces, and the crank axis leaves the plane of the bores by m sin a. Crank to cam: sqrt(C^2 - 2 C m cos g + m^2), g the \
         camshaft's angle.",
    valid_for: "Caps cut by one amount, square to the block; sizes taken square to the parting faces with the caps torqued. \
         Deck heights and camshaft distance as measured from the end housings.",
    sources: &[
        "First principles (circles on one straight axis)",
        "common practice, no source: a line-hone takes equal stock from saddle and cap and moves the crank axis by half the cap cut",
    ],
};

/// The housings as measured, and what is wanted of them.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "count_of_housings", skip_on_field_errors = false))]
#[validate(schema(function = "housings_in_order", skip_on_field_errors = false))]
#[validate(schema(function = "finished_is_largest", skip_on_field_errors = false))]
#[validate(schema(function = "chain_has_its_camshaft", skip_on_field_errors = false))]
pub struct LineHoneInput {
    /// From one end of the block to the other.
    #[validate(nested)]
    pub housings: Vec<Housing>,
    /// Taken off the parting face of each cap.
    #[validate(custom(function = "limit::cap_cut"))]
    pub cap_cut: Length,
    /// Size that all housings are finished to.
    #[validate(custom(function = "limit::main_housing"))]
    pub finished_size: Length,
    /// Where a boring bar is set, from the old axis towards the deck; a hone finds its own place when absent.
    #[validate(custom(function = "limit::bore_offset"))]
    pub set_movement: Option<Length>,
    /// The decks.
    #[validate(nested)]
    pub decks: Vec<Deck>,
    /// The camshaft.
    #[validate(nested)]
    pub camshaft: Option<CamshaftPlace>,
    /// Its chain.
    #[validate(nested)]
    pub chain: Option<Chain>,
}

/// One main housing.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct Housing {
    /// Along the crank.
    #[validate(custom(function = "limit::position"))]
    pub along: Length,
    /// Diameter square to the parting face.
    #[validate(custom(function = "limit::main_housing"))]
    pub size: Length,
    /// Saddle from the line through the end saddles, positive towards the deck; none for the end housings.
    #[validate(custom(function = "limit::saddle_deviation"))]
    pub deviation: Option<Length>,
}

/// One deck.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct Deck {
    /// Crank axis to deck.
    #[validate(custom(function = "limit::deck_height"))]
    pub deck_height: Length,
    /// Bore to the normal of the parting faces: half the bank angle of a vee.
    #[validate(custom(function = "limit::bore_angle"))]
    pub bore_angle: Angle,
}

/// Where the camshaft is.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct CamshaftPlace {
    /// Crank axis to camshaft axis.
    #[validate(custom(function = "limit::cam_distance"))]
    pub distance: Length,
    /// That line to the normal of the parting faces.
    #[validate(custom(function = "limit::cam_angle"))]
    pub angle: Angle,
}

/// A chain without tensioner.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct Chain {
    /// Pin to pin.
    #[validate(custom(function = "limit::chain_pitch"))]
    pub pitch: Length,
    /// Teeth of the crank sprocket.
    #[validate(custom(function = "limit::teeth"))]
    pub crank_teeth: u32,
    /// Teeth of the camshaft sprocket.
    #[validate(custom(function = "limit::teeth"))]
    pub camshaft_teeth: u32,
}

/// The crank axis after the line-hone, and what follows.
#[derive(Debug, Clone, PartialEq)]
pub struct LineHone {
    /// Towards the deck, at the middle of the crank.
    pub movement: Length,
    /// Movement at the last housing less that at the first.
    pub tilt: Length,
    /// In the order given.
    pub housings: Vec<HousingFound>,
    /// The smallest size that cleans up all housings on this axis.
    pub smallest_finished_size: Length,
    /// In the order given.
    pub decks: Vec<DeckFound>,
    /// Crank to cam after.
    pub cam_distance: Option<Length>,
    /// After less before.
    pub cam_distance_change: Option<Length>,
    /// Chain to spare.
    pub chain_slack: Option<Length>,
    /// How far the slack run sags with it.
    pub chain_sag: Option<Length>,
    /// Results that need an input which is not there.
    pub missing: Vec<Missing>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// One housing after the line-hone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HousingFound {
    /// Crank axis there, towards the deck.
    pub movement: Length,
    /// Taken out of the saddle; negative where it does not clean up.
    pub saddle_stock: Length,
    /// Taken out of the cap; negative where it does not clean up.
    pub cap_stock: Length,
}

/// One deck after the line-hone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeckFound {
    /// From the new axis, at the middle of the crank.
    pub deck_height: Length,
    /// Change of each deck clearance; negative when the pistons come up.
    pub deck_clearance_change: Length,
    /// How far the crank axis leaves the plane of the bores.
    pub axis_offset: Length,
}

/// z = at zero + slope along.
struct Axis {
    at_zero: f64,
    slope: f64,
}

impl Axis {
    fn at(&self, along: Length) -> f64 {
        self.at_zero + self.slope * along.metres()
    }

    /// The least-squares line; the positions differ.
    fn fitted(points: &[(f64, f64)]) -> Self {
        let count = points.len() as f64;
        let mean = |place: fn(&(f64, f64)) -> f64| points.iter().map(place).sum::<f64>() / count;
        let (middle, height) = (mean(|point| point.0), mean(|point| point.1));
        let product: f64 = points.iter().map(|(x, z)| (x - middle) * (z - height)).sum();
        let slope = product / points.iter().map(|(x, _)| (x - middle).powi(2)).sum::<f64>();
        Self { at_zero: height - slope * middle, slope }
    }
}

/// Where the crank axis goes when caps are cut and the housings are finished in line, and what that changes.
///
/// **Equation** m = new axis - line through the old centres of the end housings; deck height falls by m cos a; crank to cam
/// sqrt(C^2 - 2 C m cos g + m^2); chain slack = loop length before - after.
///
/// **Shape** 2 to 24 housings in order along the crank, any decks, one camshaft, one chain.
///
/// **Units** Lengths and angles, any.
///
/// **Valid for** Caps cut square by one amount; one straight tool.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, the housings are out of order or lack a deviation, the finished
/// size is under a housing's size, or a chain has no camshaft or no room.
///
/// **Source** First principles; equal stock of saddle and cap: common practice.
pub fn evaluate(input: &LineHoneInput) -> Result<LineHone, Error> {
    input.validate()?;
    let (old, new) = axes(input);
    let movement_at = |along: Length| new.at(along) - old.at(along);
    let ends = [input.housings.first(), input.housings.last()].map(|end| end.map_or(0.0, |end| movement_at(end.along)));
    let movement = (ends[0] + ends[1]) / 2.0;
    let housings: Vec<_> = input.housings.iter().map(|housing| housing_found(input, housing, &old, &new)).collect();
    let stocks = housings.iter().flat_map(|found| [found.saddle_stock.metres(), found.cap_stock.metres()]);
    let least = stocks.fold(f64::MAX, f64::min);
    let largest = input.housings.iter().map(|housing| housing.size.metres()).fold(f64::MIN, f64::max);
    let camshaft = input.camshaft.map(|place| (place.distance, cam_distance(&place, movement)));
    let chain = match input.chain.zip(camshaft) {
        Some((chain, (before, after))) => Some(slack_and_sag(&chain, before, after)?),
        None => None,
    };
    Ok(LineHone {
        movement: Length::from_metres(movement),
        tilt: Length::from_metres(ends[1] - ends[0]),
        // The sides, which the cap cut does not close, need the largest size at least.
        smallest_finished_size: Length::from_metres((input.finished_size.metres() - 2.0 * least).max(largest)),
        decks: input.decks.iter().map(|deck| deck_found(deck, movement)).collect(),
        cam_distance: camshaft.map(|(_, after)| after),
        cam_distance_change: camshaft.map(|(before, after)| Length::from_metres(after.metres() - before.metres())),
        chain_slack: chain.map(|(slack, _)| slack),
        chain_sag: chain.map(|(_, sag)| sag),
        missing: missing(input),
        cautions: cautions(input, &housings, ends[1] - ends[0], chain.map(|(slack, _)| slack)),
        housings,
    })
}

/// The old axis through the end housings and the new one, above the line through the end saddles.
fn axes(input: &LineHoneInput) -> (Axis, Axis) {
    let centre = |housing: &Housing| {
        let deviation = housing.deviation.unwrap_or_default().metres();
        (housing.along.metres(), deviation - housing.size.metres() / 2.0)
    };
    let ends: Vec<_> = [input.housings.first(), input.housings.last()].into_iter().flatten().map(centre).collect();
    let old = Axis::fitted(&ends);
    let new = match input.set_movement {
        Some(movement) => Axis { at_zero: old.at_zero + movement.metres(), slope: old.slope },
        None => {
            let closed = |housing| {
                let (along, centre) = centre(housing);
                (along, centre + input.cap_cut.metres() / 2.0)
            };
            Axis::fitted(&input.housings.iter().map(closed).collect::<Vec<_>>())
        }
    };
    (old, new)
}

fn housing_found(input: &LineHoneInput, housing: &Housing, old: &Axis, new: &Axis) -> HousingFound {
    let (axis, radius) = (new.at(housing.along), input.finished_size.metres() / 2.0);
    let saddle = housing.deviation.unwrap_or_default().metres();
    let cap = saddle - housing.size.metres() + input.cap_cut.metres();
    HousingFound {
        movement: Length::from_metres(axis - old.at(housing.along)),
        saddle_stock: Length::from_metres(axis + radius - saddle),
        cap_stock: Length::from_metres(cap - axis + radius),
    }
}

fn deck_found(deck: &Deck, movement: f64) -> DeckFound {
    let (sin, cos) = deck.bore_angle.radians().sin_cos();
    DeckFound {
        deck_height: Length::from_metres(deck.deck_height.metres() - movement * cos),
        deck_clearance_change: Length::from_metres(-movement * cos),
        axis_offset: Length::from_metres(movement * sin),
    }
}

fn cam_distance(place: &CamshaftPlace, movement: f64) -> Length {
    let (sin, cos) = place.angle.radians().sin_cos();
    let distance = place.distance.metres();
    Length::from_metres((distance * cos - movement).hypot(distance * sin))
}

fn slack_and_sag(chain: &Chain, before: Length, after: Length) -> Result<(Length, Length), Error> {
    if let Some(detail) = no_room(chain, after) {
        return Err(contradiction("camshaft/distance", format!("after the line-hone {detail}")));
    }
    let teeth = [chain.crank_teeth, chain.camshaft_teeth];
    let length = |distance| loop_length(distance, chain.pitch, teeth).metres();
    let slack = Length::from_metres(length(before) - length(after));
    Ok((slack, sag(run_length(after, chain.pitch, teeth), slack)))
}

fn missing(input: &LineHoneInput) -> Vec<Missing> {
    let mut missing = Vec::new();
    let mut add = |result, needs, absent: bool| missing.extend(absent.then_some(Missing { result, needs }));
    add("decks/0/deck_height_after", "decks", input.decks.is_empty());
    add("cam_distance_after", "camshaft", input.camshaft.is_none());
    add("chain_slack", "chain", input.chain.is_none());
    missing
}
