//! A pushrod between lifter and rocker: its length and its room in a passage, before and after the head comes down.
//!
//! Points are in the bank's own frame: `along` the crankshaft, `across` square to it and to the bore, positive towards the
//! valley, and `up` along the bore, positive away from the crankshaft. The zero is wherever all points are measured from.

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, Severity};
use crate::error::broken_rule;
use crate::limit;
use crate::units::{Angle, Length, Quantity};

/// Beyond this the rod crosses the passage instead of running through it.
const MOST_TILT: Angle = Angle::from_degrees(45.0);

/// A point of block or head.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct Point {
    /// Along the crankshaft.
    #[validate(custom(function = "limit::coordinate"))]
    pub along: Length,
    /// Square to crankshaft and bore, positive towards the valley.
    #[validate(custom(function = "limit::coordinate"))]
    pub across: Length,
    /// Along the bore, positive away from the crankshaft.
    #[validate(custom(function = "limit::coordinate"))]
    pub up: Length,
}

/// What carries a passage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MovesWith {
    /// The cylinder head, its ports and guides.
    Head,
    /// The manifold, once it has been cut to fit.
    Manifold,
    /// The block.
    Block,
}

/// A round passage that the pushrod runs through.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct Passage {
    /// Centre of its lower end.
    #[validate(nested)]
    pub entry: Point,
    /// Centre of its upper end.
    #[validate(nested)]
    pub exit: Point,
    /// Its diameter.
    #[validate(custom(function = "limit::passage_diameter"))]
    pub diameter: Length,
    /// What carries it.
    pub moves_with: MovesWith,
}

/// A pushrod, and the passage it runs through, if any.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "ends_are_apart", skip_on_field_errors = false))]
#[validate(schema(function = "passage_is_wider", skip_on_field_errors = false))]
#[validate(schema(function = "runs_through_passage", skip_on_field_errors = false))]
pub struct Pushrod {
    /// Its diameter where it passes.
    #[validate(custom(function = "limit::pushrod_diameter"))]
    pub diameter: Length,
    /// Centre of its lower end, in the lifter.
    #[validate(nested)]
    pub lifter_side: Point,
    /// Centre of its upper end, in the rocker.
    #[validate(nested)]
    pub rocker_side: Point,
    /// What it runs through.
    #[validate(nested)]
    pub passage: Option<Passage>,
}

/// A pushrod before and after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PushrodFit {
    /// Between the centres of its ends, as measured.
    pub length_before: Length,
    /// The same that leaves the rocker's geometry as it was.
    pub length_after: Length,
    /// Its room in the passage, when there is one.
    pub clearance: Option<PassageClearance>,
}

/// The smallest room between rod and passage, at its narrowest place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassageClearance {
    /// As measured.
    pub before: Length,
    /// After the move; negative when the rod would have to cut into the wall.
    pub after: Length,
    /// After less before.
    pub change: Length,
}

/// How far the parts that a pushrod meets move, in metres: across and up.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Moves {
    pub(crate) head: [f64; 2],
    pub(crate) manifold: [f64; 2],
}

type Vector = [f64; 3];

impl Point {
    fn metres(self) -> Vector {
        [self.along.metres(), self.across.metres(), self.up.metres()]
    }
}

fn minus(a: Vector, b: Vector) -> Vector {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn size(a: Vector) -> f64 {
    dot(a, a).sqrt()
}

fn moved(point: Vector, [across, up]: [f64; 2]) -> Vector {
    [point[0], point[1] + across, point[2] + up]
}

fn ends_are_apart(rod: &Pushrod) -> Result<(), ValidationError> {
    if rod.rocker_side != rod.lifter_side {
        return Ok(());
    }
    Err(broken_rule("rocker_side", "contradiction", "is the same point as lifter_side; give both ends.".to_owned()))
}

fn passage_is_wider(rod: &Pushrod) -> Result<(), ValidationError> {
    match &rod.passage {
        Some(passage) if passage.diameter <= rod.diameter => Err(broken_rule(
            "passage/diameter",
            "contradiction",
            format!("must be wider than the pushrod, {}; got {}.", rod.diameter.shown(), passage.diameter.shown()),
        )),
        _ => Ok(()),
    }
}

fn runs_through_passage(rod: &Pushrod) -> Result<(), ValidationError> {
    let Some(passage) = &rod.passage else { return Ok(()) };
    let broken = |field, detail: String| Err(broken_rule(field, "contradiction", detail));
    let (entry, exit) = (passage.entry.metres(), passage.exit.metres());
    let (foot, run) = (rod.lifter_side.metres(), minus(rod.rocker_side.metres(), rod.lifter_side.metres()));
    let axis = minus(exit, entry);
    if size(axis) == 0.0 {
        return broken("passage/exit", "is the same point as entry; give both ends of the passage.".to_owned());
    }
    if size(run) == 0.0 {
        return Ok(()); // said by another rule
    }
    let cosine = dot(axis, run) / (size(axis) * size(run));
    if cosine < MOST_TILT.radians().cos() {
        let detail = format!(
            "must lie from entry as the rocker lies from the lifter: passage and pushrod may be at most {} apart, here they \
             are {}.",
            MOST_TILT.shown(),
            Angle::from_radians(cosine.clamp(-1.0, 1.0).acos()).shown()
        );
        return broken("passage/exit", detail);
    }
    for (field, end) in [("passage/entry", entry), ("passage/exit", exit)] {
        if !(0.0..=1.0).contains(&(dot(minus(end, foot), axis) / dot(run, axis))) {
            return broken(field, "must lie between the ends of the pushrod.".to_owned());
        }
    }
    Ok(())
}

/// Half the gap that is left when the rod's tilted section is taken at its widest, less how far its centre is off.
///
/// The centre's distance from the passage's axis is a convex function of the place along it, so the narrowest place is one of
/// the two ends. The widest half-section r/cos(tilt) is used in every direction: on the safe side by r (1/cos(tilt) - 1) at
/// most.
fn clearance(foot: Vector, head: Vector, [entry, exit]: [Vector; 2], rod_diameter: f64, passage_diameter: f64) -> f64 {
    let (run, axis) = (minus(head, foot), minus(exit, entry));
    let across = dot(run, axis);
    let cosine = across / (size(run) * size(axis));
    let off_centre = |end: Vector| {
        let share = dot(minus(end, foot), axis) / across;
        let centre = [foot[0] + share * run[0], foot[1] + share * run[1], foot[2] + share * run[2]];
        size(minus(centre, end))
    };
    (passage_diameter - rod_diameter / cosine) / 2.0 - off_centre(entry).max(off_centre(exit))
}

/// Length and room of a checked pushrod before and after its rocker moves with the head.
pub(crate) fn fit(rod: &Pushrod, moves: Moves) -> PushrodFit {
    let foot = rod.lifter_side.metres();
    let (old_top, new_top) = (rod.rocker_side.metres(), moved(rod.rocker_side.metres(), moves.head));
    let room = |passage: &Passage| {
        let ends = [passage.entry.metres(), passage.exit.metres()];
        let shift = match passage.moves_with {
            MovesWith::Head => moves.head,
            MovesWith::Manifold => moves.manifold,
            MovesWith::Block => [0.0, 0.0],
        };
        let (thin, wide) = (rod.diameter.metres(), passage.diameter.metres());
        let before = clearance(foot, old_top, ends, thin, wide);
        let after = clearance(foot, new_top, ends.map(|end| moved(end, shift)), thin, wide);
        PassageClearance {
            before: Length::from_metres(before),
            after: Length::from_metres(after),
            change: Length::from_metres(after - before),
        }
    };
    PushrodFit {
        length_before: Length::from_metres(size(minus(old_top, foot))),
        length_after: Length::from_metres(size(minus(new_top, foot))),
        clearance: rod.passage.as_ref().map(room),
    }
}

/// What to look at twice when a head with a pushrod passage comes down.
pub(crate) fn cautions(lowered: Length, room: PassageClearance) -> Vec<Caution> {
    let mut cautions = Vec::new();
    if room.after <= Length::default() {
        cautions.push(Caution {
            code: "pushrod_touches",
            severity: Severity::Danger,
            about: About::Answer,
            path: "pushrod/clearance/after".into(),
            detail: format!("The pushrod has {} of room in its passage; it must not touch.", room.after.shown()).into(),
            source: "First principles",
        });
    }
    if lowered > Length::default() {
        cautions.push(Caution {
            code: "cut_sparingly",
            severity: Severity::Caution,
            about: About::Request,
            path: "pushrod/passage".into(),
            detail: "Decks and heads are cut sparingly where pushrods pass through the intake ports: clearance there is lost \
                     first. Check it at full lift too, and on every cylinder."
                .into(),
            source: COMMON_PRACTICE,
        });
    }
    cautions
}
