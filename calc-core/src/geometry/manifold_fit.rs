//! What lowering the heads does to the manifold between them and to the pushrods.

use validator::{Validate, ValidationError};

use crate::caution::Caution;
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::units::{Angle, Length, Quantity};

use super::manifold_fit_cautions::cautions;
use super::pushrod::{self, Moves, MovesWith, Pushrod, PushrodFit};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "manifold-fit",
    title: "Fit of a valley manifold, and of pushrods, after the heads are lowered",
    equation: "q = deck cut + head cut - gasket change, along the bore. Seen from the end, with b half the bank angle and d how far \
         the intake face turns up from square to the deck, the head moves down by q cos b and in by q sin b. Held where it was, \
         the manifold is left with a gap of q sin d square to the face; ports miss by q cos d along it, bolt holes by \
         q cos(d + g), g how far the bolts turn up from square to the face. Cut to fit with both banks alike: manifold side or \
         head intake face q sin b/cos(b + d), manifold drop and end-rail cut q cos d/cos(b + d). With unequal banks these hold \
         for the mean Q of both; a side then takes (Q - q) cos b/sin(b + d) more, and the manifold shifts sideways by \
         (q - Q)(sin b + cos b/tan(b + d)) away from that bank. Pushrod: distance from lifter to the lowered rocker; room in a \
         passage (D - d/cos(tilt))/2 less the offset of its centre, at the tighter end of the passage.",
    valid_for: "0 < b + d < 90 degrees, banks alike in b and d, ports square to the intake face, the manifold not turned. An in-line \
         engine, or a manifold on each head, has no valley: it moves with its head. The room of a tilted pushrod is on the safe \
         side by less than half its diameter times (1/cos(tilt) - 1).",
    sources: &[
        "First principles (plane geometry of the end view)",
        "Shop factors for manifold sides and end rails (from memory) agree within 1 percent",
    ],
};

/// Where the manifold sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manifold {
    /// In the valley, between both heads.
    Valley,
    /// On one head only.
    OnHead,
}

/// What lowers the head of one bank.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct BankCuts {
    /// Taken off the block's deck.
    #[validate(custom(function = "limit::face_cut"))]
    pub deck_cut: Length,
    /// Taken off the head's face.
    #[validate(custom(function = "limit::face_cut"))]
    pub head_cut: Length,
    /// New compressed gasket thickness less the old one.
    #[validate(custom(function = "limit::gasket_change"))]
    pub gasket_change: Length,
}

/// The engine's end view and what is cut.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "valley_is_described", skip_on_field_errors = false))]
#[validate(schema(function = "valley_is_open", skip_on_field_errors = false))]
#[validate(schema(function = "other_bank_exists", skip_on_field_errors = false))]
#[validate(schema(function = "passage_has_a_carrier", skip_on_field_errors = false))]
pub struct ManifoldFitInput {
    /// Angle between the banks; none for an in-line engine.
    #[validate(custom(function = "limit::bank_angle"))]
    pub bank_angle: Option<Angle>,
    /// Where the manifold sits.
    pub manifold: Manifold,
    /// How far the intake face turns up from square to the deck.
    #[validate(custom(function = "limit::face_angle"))]
    pub intake_face_angle: Option<Angle>,
    /// How far the manifold's bolts turn up from square to the intake face.
    #[validate(custom(function = "limit::face_angle"))]
    pub bolt_angle: Angle,
    /// The bank, or the one that has the pushrod.
    #[validate(nested)]
    pub bank: BankCuts,
    /// The other bank, when it is cut differently.
    #[validate(nested)]
    pub other_bank: Option<BankCuts>,
    /// A pushrod of `bank`.
    #[validate(nested)]
    pub pushrod: Option<Pushrod>,
}

/// What follows.
#[derive(Debug, Clone, PartialEq)]
pub struct ManifoldFit {
    /// The bank.
    pub bank: BankFit,
    /// The other bank of a vee or flat engine.
    pub other_bank: Option<BankFit>,
    /// What a valley manifold needs as a whole.
    pub manifold: Option<ManifoldMove>,
    /// What to add to the pushrods of `bank` for unchanged rocker geometry: negative for shorter ones.
    pub pushrod_length_change: Length,
    /// The pushrod, when it is given.
    pub pushrod: Option<PushrodFit>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// One bank's head and its intake face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BankFit {
    /// Along the bore, towards the crankshaft.
    pub lowered: Length,
    /// Straight down.
    pub down: Length,
    /// Sideways, towards the middle of the engine.
    pub inward: Length,
    /// What a valley manifold means for this face.
    pub face: Option<FaceFit>,
}

/// One intake face under a valley manifold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaceFit {
    /// Off the manifold's side, or off the head's intake face.
    pub side_cut: Length,
    /// Uncut: the gap square to the face; negative when the faces press.
    pub face_gap: Length,
    /// Uncut: how far the head's ports stand below the manifold's, along the face.
    pub port_mismatch: Length,
    /// Uncut: how far the head's bolt holes stand below the manifold's, square to the bolts.
    pub bolt_hole_mismatch: Length,
}

/// How a valley manifold moves when it is cut to fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ManifoldMove {
    /// How far it comes down: what must come off the end rails.
    pub end_rail_cut: Length,
    /// How far it shifts sideways, positive towards `bank`; zero when both banks are lowered alike.
    pub sideways_shift: Length,
}

/// Angles closer than this to a limit count as on it (degrees).
const CLOSE: f64 = 1e-9;

fn valley_is_described(input: &ManifoldFitInput) -> Result<(), ValidationError> {
    let (field, code, detail) = match (input.manifold, input.bank_angle, input.intake_face_angle) {
        (Manifold::OnHead, _, None) | (Manifold::Valley, Some(_), Some(_)) => return Ok(()),
        (Manifold::OnHead, _, Some(_)) => {
            ("intake_face_angle", "contradiction", "belongs to a valley manifold; leave it out.")
        }
        (Manifold::Valley, None, _) => (
            "bank_angle",
            "missing",
            "is missing: a valley lies between two banks. An in-line engine has its manifold on the head.",
        ),
        (Manifold::Valley, Some(_), None) => (
            "intake_face_angle",
            "missing",
            "is missing: the fit of a valley manifold depends on it. 0 is square to the deck.",
        ),
    };
    Err(broken_rule(field, code, detail.to_owned()))
}

fn valley_is_open(input: &ManifoldFitInput) -> Result<(), ValidationError> {
    let (Manifold::Valley, Some(banks), Some(face)) = (input.manifold, input.bank_angle, input.intake_face_angle)
    else {
        return Ok(()); // said by another rule
    };
    let half = banks.degrees() / 2.0;
    let contradiction = |field, detail: String| Err(broken_rule(field, "contradiction", detail));
    if half > 90.0 - CLOSE {
        return contradiction(
            "bank_angle",
            "must be below 180 deg for a valley manifold: there is no valley.".to_owned(),
        );
    }
    if half + face.degrees() > 90.0 - CLOSE {
        let detail = format!(
            "must be below {}, so that with half the bank angle it is below 90 deg; got {}. At 90 the faces look straight up \
             and no cut lets the manifold down in line.",
            Angle::from_degrees(90.0 - half).shown(),
            face.shown()
        );
        return contradiction("intake_face_angle", detail);
    }
    if half + face.degrees() < CLOSE {
        let detail = format!(
            "must be above {}, so that the faces look up and the manifold can be put in from above; got {}.",
            Angle::from_degrees(-half).shown(),
            face.shown()
        );
        return contradiction("intake_face_angle", detail);
    }
    Ok(())
}

fn other_bank_exists(input: &ManifoldFitInput) -> Result<(), ValidationError> {
    if input.other_bank.is_none() || input.bank_angle.is_some() {
        return Ok(());
    }
    Err(broken_rule(
        "other_bank",
        "contradiction",
        "is given without a bank_angle; an in-line engine has one.".to_owned(),
    ))
}

fn passage_has_a_carrier(input: &ManifoldFitInput) -> Result<(), ValidationError> {
    let passage = input.pushrod.as_ref().and_then(|pushrod| pushrod.passage.as_ref());
    match passage.map(|passage| passage.moves_with) {
        Some(MovesWith::Manifold) if input.manifold == Manifold::OnHead => {
            let detail =
                "is manifold, but only a valley manifold moves on its own; one on its head moves with the head.";
            Err(broken_rule("pushrod/passage/moves_with", "contradiction", detail.to_owned()))
        }
        _ => Ok(()),
    }
}

fn lowered(cuts: BankCuts) -> f64 {
    cuts.deck_cut.metres() + cuts.head_cut.metres() - cuts.gasket_change.metres()
}

/// Half the bank angle and the intake-face angle, in radians.
#[derive(Clone, Copy)]
struct Valley {
    half: f64,
    face: f64,
}

impl Valley {
    fn side_cut(self, lowered: f64, mean: f64) -> f64 {
        let turned = self.half + self.face;
        mean * self.half.sin() / turned.cos() + (mean - lowered) * self.half.cos() / turned.sin()
    }

    fn face(self, lowered: f64, mean: f64, bolt: f64) -> FaceFit {
        FaceFit {
            side_cut: Length::from_metres(self.side_cut(lowered, mean)),
            face_gap: Length::from_metres(lowered * self.face.sin()),
            port_mismatch: Length::from_metres(lowered * self.face.cos()),
            bolt_hole_mismatch: Length::from_metres(lowered * (self.face + bolt).cos()),
        }
    }

    fn manifold(self, lowered: f64, mean: f64) -> ManifoldMove {
        let turned = self.half + self.face;
        let shift = (mean - lowered) * (self.half.sin() + self.half.cos() / turned.tan());
        ManifoldMove {
            end_rail_cut: Length::from_metres(mean * self.face.cos() / turned.cos()),
            sideways_shift: Length::from_metres(shift),
        }
    }

    /// The cut manifold follows the head and comes closer to its face by the cut: across and up, in the bank's frame.
    fn manifold_travel(self, lowered: f64, mean: f64) -> [f64; 2] {
        let cut = self.side_cut(lowered, mean);
        [-cut * self.face.cos(), -lowered - cut * self.face.sin()]
    }
}

/// How the heads move, what the manifold then needs, and what the pushrods lose.
///
/// **Equation** q = deck cut + head cut - gasket change; down q cos b, in q sin b; side q sin b/cos(b + d); rails
/// q cos d/cos(b + d); uncut: gap q sin d, ports q cos d. [`METHOD`] has the rest.
///
/// **Shape** One or two banks, one pushrod.
///
/// **Units** Lengths and angles.
///
/// **Valid for** 0 < b + d < 90 degrees with a valley manifold.
///
/// **Errors** [`Error::Invalid`] with every field that is out of range and every rule that is broken.
///
/// **Source** First principles.
pub fn evaluate(input: &ManifoldFitInput) -> Result<ManifoldFit, Error> {
    input.validate()?;
    let half = input.bank_angle.map_or(0.0, |angle| angle.radians() / 2.0);
    let valley = input.intake_face_angle.map(|face| Valley { half, face: face.radians() });
    let first = lowered(input.bank);
    let second = input.other_bank.map_or(first, lowered);
    let mean = (first + second) / 2.0;
    let bank = |lowered: f64| BankFit {
        lowered: Length::from_metres(lowered),
        down: Length::from_metres(lowered * half.cos()),
        inward: Length::from_metres(lowered * half.sin()),
        face: valley.map(|valley| valley.face(lowered, mean, input.bolt_angle.radians())),
    };
    let moves = Moves {
        head: [0.0, -first],
        manifold: valley.map_or([0.0, 0.0], |valley| valley.manifold_travel(first, mean)),
    };
    let pushrod = input.pushrod.as_ref().map(|rod| pushrod::fit(rod, moves));
    let length_change = pushrod.map_or(0.0 - first, |rod| rod.length_after.metres() - rod.length_before.metres());
    let fit = ManifoldFit {
        bank: bank(first),
        other_bank: input.bank_angle.map(|_| bank(second)),
        manifold: valley.map(|valley| valley.manifold(first, mean)),
        pushrod_length_change: Length::from_metres(length_change),
        pushrod,
        cautions: Vec::new(),
    };
    Ok(ManifoldFit { cautions: cautions(input, &fit), ..fit })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::caution::STANDING;
    use crate::geometry::pushrod::{Passage, Point};

    fn cuts(deck: f64, head: f64, gasket: f64) -> BankCuts {
        BankCuts {
            deck_cut: Length::from_inches(deck),
            head_cut: Length::from_inches(head),
            gasket_change: Length::from_inches(gasket),
        }
    }

    fn vee(half: f64, face: f64, bank: BankCuts, other: Option<BankCuts>) -> ManifoldFitInput {
        let point = |across: f64, up: f64| Point {
            along: Length::default(),
            across: Length::from_inches(across),
            up: Length::from_inches(up),
        };
        ManifoldFitInput {
            bank_angle: Some(Angle::from_degrees(2.0 * half)),
            manifold: Manifold::Valley,
            intake_face_angle: Some(Angle::from_degrees(face)),
            bolt_angle: Angle::default(),
            bank,
            other_bank: other,
            pushrod: Some(Pushrod {
                diameter: Length::from_inches(0.3125),
                lifter_side: point(0.0, 0.0),
                rocker_side: point(0.6, 8.0),
                passage: Some(Passage {
                    entry: point(0.35, 5.0),
                    exit: point(0.5, 6.5),
                    diameter: Length::from_inches(0.5),
                    moves_with: MovesWith::Manifold,
                }),
            }),
        }
    }

    /// Every length of an answer, in inches.
    fn lengths(fit: &ManifoldFit) -> Vec<f64> {
        let bank = |bank: &BankFit| {
            let face = bank
                .face
                .map_or(vec![], |face| vec![face.side_cut, face.face_gap, face.port_mismatch, face.bolt_hole_mismatch]);
            [vec![bank.lowered, bank.down, bank.inward], face].concat()
        };
        let whole = fit.manifold.map_or(vec![], |manifold| vec![manifold.end_rail_cut, manifold.sideways_shift]);
        let all = [bank(&fit.bank), fit.other_bank.as_ref().map_or(vec![], bank), whole].concat();
        all.into_iter().map(Length::inches).collect()
    }

    proptest! {
        #[test]
        fn no_cut_moves_nothing(half in 10.0..60.0, face in -5.0..25.0) {
            let fit = evaluate(&vee(half, face, cuts(0.0, 0.0, 0.0), None))?;
            prop_assert!(lengths(&fit).into_iter().all(|length| length.abs() < 1e-15));
            prop_assert!(fit.pushrod_length_change.metres().abs() < 1e-15);
            let change = fit.pushrod.and_then(|rod| rod.clearance).map(|room| room.change.metres().abs());
            prop_assert!(change.is_some_and(|change| change < 1e-15));
            prop_assert_eq!(fit.cautions, [STANDING]);
        }

        #[test]
        fn every_length_is_linear_in_the_cuts(
            half in 10.0..60.0, face in -5.0..25.0, deck in 0.0..0.02, head in 0.0..0.02, other in 0.0..0.02,
        ) {
            let once = lengths(&evaluate(&vee(half, face, cuts(deck, head, 0.0), Some(cuts(other, 0.0, 0.01))))?);
            let twice = evaluate(&vee(half, face, cuts(2.0 * deck, 2.0 * head, 0.0), Some(cuts(2.0 * other, 0.0, 0.02))))?;
            for (once, twice) in once.into_iter().zip(lengths(&twice)) {
                prop_assert!((2.0 * once - twice).abs() < 1e-12);
            }
        }

        #[test]
        fn swapped_banks_swap_the_answer(half in 10.0..60.0, face in -5.0..25.0, first in 0.0..0.03, second in 0.0..0.03) {
            let (one, two) = (cuts(first, 0.0, 0.0), cuts(0.0, second, 0.0));
            let (there, back) = (evaluate(&vee(half, face, one, Some(two)))?, evaluate(&vee(half, face, two, Some(one)))?);
            prop_assert_eq!(Some(there.bank), back.other_bank);
            prop_assert_eq!(there.other_bank, Some(back.bank));
            let rail = |fit: &ManifoldFit| fit.manifold.map(|manifold| manifold.end_rail_cut);
            let shift = |fit: &ManifoldFit| fit.manifold.map_or(f64::NAN, |manifold| manifold.sideways_shift.metres());
            prop_assert_eq!(rail(&there), rail(&back));
            prop_assert!((shift(&there) + shift(&back)).abs() < 1e-15);
        }
    }
}
