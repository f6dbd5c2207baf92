//! `/v1/geometry/manifold-fit`

use calc_core::error::Error;
use calc_core::geometry::{manifold_fit as core, pushrod};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{AngleInput, LengthInput, LengthOutput, out};

/// The engine's end view and what is cut.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ManifoldFitRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Angle between the banks of a vee or flat engine; leave it out for an in-line engine.
    bank_angle: Option<AngleInput>,
    /// Where the intake manifold sits.
    manifold: ManifoldFitManifold,
    /// How far the intake face turns up from square to the deck; needed with a valley manifold, and only there. With half the
    /// bank angle it must be between 0 and 90 degrees.
    intake_face_angle: Option<AngleInput>,
    /// How far the manifold's bolts turn up from square to the intake face; square when absent.
    bolt_angle: Option<AngleInput>,
    /// The bank, or the one with the pushrod.
    bank: ManifoldFitCuts,
    /// The other bank; cut like the first when absent.
    other_bank: Option<ManifoldFitCuts>,
    /// A pushrod of `bank`.
    pushrod: Option<ManifoldFitPushrod>,
}

/// Where an intake manifold sits.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum ManifoldFitManifold {
    /// In the valley, between both heads.
    Valley,
    /// On one head only: it moves with that head.
    OnHead,
}

/// What lowers the head of one bank.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct ManifoldFitCuts {
    /// Taken off the block's deck; nothing when absent.
    deck_cut: Option<LengthInput>,
    /// Taken off the head's face; nothing when absent.
    head_cut: Option<LengthInput>,
    /// New compressed gasket thickness less the old one: negative for a thinner gasket; none when absent.
    gasket_change: Option<LengthInput>,
}

/// A pushrod, as measured before the cuts.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct ManifoldFitPushrod {
    /// Its diameter where it passes.
    diameter: LengthInput,
    /// Centre of its lower end, in the lifter.
    lifter_side: ManifoldFitPoint,
    /// Centre of its upper end, in the rocker.
    rocker_side: ManifoldFitPoint,
    /// A round passage through a port or guide that it runs through.
    passage: Option<ManifoldFitPassage>,
}

/// A round passage.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct ManifoldFitPassage {
    /// Centre of its lower end.
    entry: ManifoldFitPoint,
    /// Centre of its upper end.
    exit: ManifoldFitPoint,
    /// Its diameter; wider than the pushrod.
    diameter: LengthInput,
    /// What carries it.
    moves_with: ManifoldFitCarrier,
}

/// A point in the bank's own frame, from any zero that all points share.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct ManifoldFitPoint {
    /// Along the crankshaft; 0 when absent.
    along: Option<LengthInput>,
    /// Square to crankshaft and bore, positive towards the valley.
    across: LengthInput,
    /// Along the bore, positive away from the crankshaft.
    up: LengthInput,
}

/// What carries a passage.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum ManifoldFitCarrier {
    /// The cylinder head, its ports and guides.
    Head,
    /// A valley manifold, once it has been cut to fit.
    Manifold,
    /// The block.
    Block,
}

/// How the heads move and what follows.
#[derive(Debug, Serialize, ToSchema)]
pub struct ManifoldFitResponse {
    /// Unit system of the answer.
    units: Units,
    /// The bank.
    bank: ManifoldFitBank,
    /// The other bank; absent for an in-line engine.
    #[serde(skip_serializing_if = "Option::is_none")]
    other_bank: Option<ManifoldFitBank>,
    /// What the manifold needs as a whole; only with a valley manifold.
    #[serde(skip_serializing_if = "Option::is_none")]
    manifold: Option<ManifoldFitMove>,
    /// What to add to the pushrods of `bank` for unchanged rocker geometry, negative for shorter ones; from the pushrod's ends
    /// when they are given, otherwise for pushrods along the bore.
    pushrod_length_change: LengthOutput,
    /// The pushrod; only when it is given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pushrod: Option<ManifoldFitPushrodFit>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// One bank's head.
#[derive(Debug, Serialize, ToSchema)]
pub struct ManifoldFitBank {
    /// How far the head comes towards the crankshaft along the bore.
    lowered: LengthOutput,
    /// How far it moves straight down.
    down: LengthOutput,
    /// How far it moves sideways, towards the middle of the engine.
    inward: LengthOutput,
    /// Its intake face; only with a valley manifold.
    #[serde(skip_serializing_if = "Option::is_none")]
    face: Option<ManifoldFitFace>,
}

/// One intake face under a valley manifold.
#[derive(Debug, Serialize, ToSchema)]
pub struct ManifoldFitFace {
    /// To take off the manifold's side or off the head's intake face; negative when material is missing.
    side_cut: LengthOutput,
    /// With nothing cut and the manifold held where it was: the gap square to the face; negative when the faces press.
    face_gap: LengthOutput,
    /// With nothing cut and the manifold held where it was: how far the head's ports stand below the manifold's, along the
    /// face.
    port_mismatch: LengthOutput,
    /// With nothing cut and the manifold held where it was: how far the head's bolt holes stand below the manifold's, square to
    /// the bolts.
    bolt_hole_mismatch: LengthOutput,
}

/// How a valley manifold moves when it is cut to fit.
#[derive(Debug, Serialize, ToSchema)]
pub struct ManifoldFitMove {
    /// How far it comes down: what must come off the end rails.
    end_rail_cut: LengthOutput,
    /// How far it shifts sideways, positive towards `bank`; zero when both banks are lowered alike.
    sideways_shift: LengthOutput,
}

/// The pushrod before and after.
#[derive(Debug, Serialize, ToSchema)]
pub struct ManifoldFitPushrodFit {
    /// Between the centres of its ends, before the cuts.
    length_before: LengthOutput,
    /// The same that leaves the rocker's geometry as it was.
    length_after: LengthOutput,
    /// Its smallest room in the passage, with the pushrod of the new length; only with a passage.
    #[serde(skip_serializing_if = "Option::is_none")]
    clearance: Option<ManifoldFitClearance>,
}

/// The smallest room between pushrod and passage.
#[derive(Debug, Serialize, ToSchema)]
pub struct ManifoldFitClearance {
    /// Before the cuts.
    before: LengthOutput,
    /// After them; negative when the pushrod would have to cut into the wall.
    after: LengthOutput,
    /// After less before.
    change: LengthOutput,
}

/// The calculation.
pub struct ManifoldFit;

impl Calculation for ManifoldFit {
    const PATH: &'static str = "/v1/geometry/manifold-fit";
    const SUMMARY: &'static str = "What cut decks and heads do to manifold and pushrods";
    const DESCRIPTION: &'static str = "How far each head moves down and in, what must come off the sides and end rails of a \
        valley manifold, by how much ports and bolt holes miss if nothing is cut, and the length and room of a pushrod. An \
        in-line engine, or a manifold on its head, is answered with what applies.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "bank.lowered";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/geometry/manifold_fit.json");
    type Request = ManifoldFitRequest;
    type Response = ManifoldFitResponse;

    fn run(request: ManifoldFitRequest) -> Result<ManifoldFitResponse, Error> {
        let units = request.units;
        let angle = |angle: Option<AngleInput>| angle.map(|angle| angle.core(units));
        let found = core::evaluate(&core::ManifoldFitInput {
            bank_angle: angle(request.bank_angle),
            manifold: match request.manifold {
                ManifoldFitManifold::Valley => core::Manifold::Valley,
                ManifoldFitManifold::OnHead => core::Manifold::OnHead,
            },
            intake_face_angle: angle(request.intake_face_angle),
            bolt_angle: angle(request.bolt_angle).unwrap_or_default(),
            bank: request.bank.core(units),
            other_bank: request.other_bank.map(|cuts| cuts.core(units)),
            pushrod: request.pushrod.map(|pushrod| pushrod.core(units)),
        })?;
        Ok(ManifoldFitResponse {
            units,
            bank: ManifoldFitBank::new(found.bank, units),
            other_bank: found.other_bank.map(|bank| ManifoldFitBank::new(bank, units)),
            manifold: found.manifold.map(|manifold| ManifoldFitMove {
                end_rail_cut: out(manifold.end_rail_cut, units),
                sideways_shift: out(manifold.sideways_shift, units),
            }),
            pushrod_length_change: out(found.pushrod_length_change, units),
            pushrod: found.pushrod.map(|pushrod| ManifoldFitPushrodFit {
                length_before: out(pushrod.length_before, units),
                length_after: out(pushrod.length_after, units),
                clearance: pushrod.clearance.map(|clearance| ManifoldFitClearance {
                    before: out(clearance.before, units),
                    after: out(clearance.after, units),
                    change: out(clearance.change, units),
                }),
            }),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl ManifoldFitBank {
    fn new(bank: core::BankFit, units: Units) -> Self {
        Self {
            lowered: out(bank.lowered, units),
            down: out(bank.down, units),
            inward: out(bank.inward, units),
            face: bank.face.map(|face| ManifoldFitFace {
                side_cut: out(face.side_cut, units),
                face_gap: out(face.face_gap, units),
                port_mismatch: out(face.port_mismatch, units),
                bolt_hole_mismatch: out(face.bolt_hole_mismatch, units),
            }),
        }
    }
}

impl ManifoldFitCuts {
    fn core(&self, units: Units) -> core::BankCuts {
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units)).unwrap_or_default();
        core::BankCuts {
            deck_cut: length(self.deck_cut),
            head_cut: length(self.head_cut),
            gasket_change: length(self.gasket_change),
        }
    }
}

impl ManifoldFitPushrod {
    fn core(&self, units: Units) -> pushrod::Pushrod {
        pushrod::Pushrod {
            diameter: self.diameter.core(units),
            lifter_side: self.lifter_side.core(units),
            rocker_side: self.rocker_side.core(units),
            passage: self.passage.as_ref().map(|passage| pushrod::Passage {
                entry: passage.entry.core(units),
                exit: passage.exit.core(units),
                diameter: passage.diameter.core(units),
                moves_with: match passage.moves_with {
                    ManifoldFitCarrier::Head => pushrod::MovesWith::Head,
                    ManifoldFitCarrier::Manifold => pushrod::MovesWith::Manifold,
                    ManifoldFitCarrier::Block => pushrod::MovesWith::Block,
                },
            }),
        }
    }
}

impl ManifoldFitPoint {
    fn core(&self, units: Units) -> pushrod::Point {
        pushrod::Point {
            along: self.along.map(|along| along.core(units)).unwrap_or_default(),
            across: self.across.core(units),
            up: self.up.core(units),
        }
    }
}
