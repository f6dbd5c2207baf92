//! The rules that tie the fields of a line-hone together.

use validator::ValidationError;

use super::{Chain, LineHoneInput};
use crate::error::broken_rule;
use crate::geometry::chain_loop::pitch_radius;
use crate::limit;
use crate::units::{Length, Quantity};

const FEWEST_HOUSINGS: usize = 2;
const MOST_HOUSINGS: usize = 24;
const MOST_DECKS: usize = 4;
/// Two housings closer than this are one.
const LEAST_APART: Length = Length::from_inches(0.1);
/// More than this out of a diameter is no line-hone.
const MOST_STOCK: Length = Length::from_inches(0.1);

pub(super) fn count_of_housings(input: &LineHoneInput) -> Result<(), ValidationError> {
    let (housings, decks) = (input.housings.len(), input.decks.len());
    if !(FEWEST_HOUSINGS..=MOST_HOUSINGS).contains(&housings) {
        let detail = format!("must hold {FEWEST_HOUSINGS} to {MOST_HOUSINGS} housings; got {housings}.");
        return Err(broken_rule("housings", "wrong_count", detail));
    }
    if decks > MOST_DECKS {
        return Err(broken_rule("decks", "wrong_count", format!("must hold at most {MOST_DECKS} decks; got {decks}.")));
    }
    Ok(())
}

/// Positions rise, the ends have no deviation and all others have one.
pub(super) fn housings_in_order(input: &LineHoneInput) -> Result<(), ValidationError> {
    let housings = &input.housings;
    if let Some(index) =
        housings.windows(2).position(|pair| pair[1].along.metres() - pair[0].along.metres() < LEAST_APART.metres())
    {
        let detail = format!(
            "must be at least {} beyond the housing before it, at {}; got {}: list the housings in order along the crank.",
            LEAST_APART.shown(),
            housings[index].along.shown(),
            housings[index + 1].along.shown()
        );
        return Err(broken_rule(&format!("housings/{}/along", index + 1), "contradiction", detail));
    }
    let last = housings.len().saturating_sub(1);
    for (index, housing) in housings.iter().enumerate() {
        let (code, detail) = match (index == 0 || index == last, housing.deviation) {
            (false, None) => {
                ("missing", "is missing: how far is this saddle from the line through the end saddles, zero included?")
            }
            (true, Some(deviation)) if deviation != Length::default() => {
                ("contradiction", "of an end housing is zero: deviations count from the line through the end saddles.")
            }
            _ => continue,
        };
        return Err(broken_rule(&format!("housings/{index}/deviation"), code, detail.to_owned()));
    }
    Ok(())
}

/// The cut of the caps closes a housing one way only: across, it keeps its size. And a hone takes thousandths, not tenths.
pub(super) fn finished_is_largest(input: &LineHoneInput) -> Result<(), ValidationError> {
    let finished = input.finished_size;
    let sound = |size: Length| [size, finished].iter().all(|size| limit::main_housing(size).is_ok());
    let sizes =
        || input.housings.iter().enumerate().map(|(index, housing)| (index, housing.size)).filter(|one| sound(one.1));
    if let Some((index, size)) = sizes().find(|(_, size)| *size > finished) {
        let detail = format!(
            "must be at least the size of every housing; housings/{index} measures {} and keeps that along its parting face, and \
             {} was asked for.",
            size.shown(),
            finished.shown()
        );
        return Err(broken_rule("finished_size", "contradiction", detail));
    }
    let Some((index, size)) = sizes().find(|(_, size)| finished.metres() - size.metres() > MOST_STOCK.metres()) else {
        return Ok(());
    };
    let detail = format!(
        "of {} is more than {} under the finished size, {}: is it the right housing and unit?",
        size.shown(),
        MOST_STOCK.shown(),
        finished.shown()
    );
    Err(broken_rule(&format!("housings/{index}/size"), "contradiction", detail))
}

pub(super) fn chain_has_its_camshaft(input: &LineHoneInput) -> Result<(), ValidationError> {
    let Some(chain) = input.chain else { return Ok(()) };
    let Some(camshaft) = input.camshaft else {
        let detail = "is missing: the chain's slack follows from the distance of the camshaft.";
        return Err(broken_rule("camshaft", "missing", detail.to_owned()));
    };
    // What is out of range has its own fault.
    let teeth = [chain.crank_teeth, chain.camshaft_teeth].iter().all(|teeth| limit::teeth(*teeth).is_ok());
    if !teeth || limit::chain_pitch(&chain.pitch).is_err() {
        return Ok(());
    }
    if limit::cam_distance(&camshaft.distance).is_err() {
        return Ok(());
    }
    match no_room(&chain, camshaft.distance) {
        Some(detail) => Err(broken_rule("camshaft/distance", "contradiction", detail)),
        None => Ok(()),
    }
}

/// What is wrong with a distance at which the sprockets would touch.
pub(super) fn no_room(chain: &Chain, distance: Length) -> Option<String> {
    let radius = |teeth| pitch_radius(chain.pitch, teeth).metres();
    let room = Length::from_metres(radius(chain.crank_teeth) + radius(chain.camshaft_teeth));
    (distance <= room).then(|| {
        format!(
            "must leave room between the sprockets, whose pitch radii together are {}; got {}.",
            room.shown(),
            distance.shown()
        )
    })
}
