//! A measured block and its plan as they travel: the same names in the same order as the core's.

use calc_core::build::measured_block as core;
use calc_core::units::Length;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::wire::quantity::LengthInput;
use crate::wire::{ShortText, Units};

/// A block as measured, and what is wanted of it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OperationsRequest {
    /// An identifier of the caller's, given back.
    pub(crate) id: Option<ShortText>,
    /// Unit system of bare numbers and of the answer.
    pub(crate) units: Units,
    /// The block as measured.
    measured: OperationsBlock,
    /// The plan.
    plan: OperationsPlan,
}

/// A block as measured, before anything is done to it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OperationsBlock {
    /// Its cylinders; needed with a planned bore.
    #[schema(max_items = 49)]
    cylinders: Option<Vec<OperationsCylinder>>,
    /// Its banks; needed with a planned deck height.
    #[schema(max_items = 49)]
    banks: Option<Vec<OperationsBank>>,
    /// Its main bearing housings; needed with a planned housing bore.
    #[schema(max_items = 49)]
    main_housings: Option<Vec<OperationsHousing>>,
}

/// One cylinder.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OperationsCylinder {
    /// What it is called; each cylinder its own.
    number: u32,
    /// The largest reading of its bore.
    largest_bore: LengthInput,
    /// The smallest reading; like the largest when absent.
    smallest_bore: Option<LengthInput>,
    /// The thinnest place of its wall; without it the wall is not judged.
    thinnest_wall: Option<LengthInput>,
}

/// One bank.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OperationsBank {
    /// What it is called; each bank its own.
    number: u32,
    /// Crank axis to deck at any places, 1 to 1000 readings.
    #[schema(max_items = 1000)]
    deck_heights: Vec<LengthInput>,
}

/// One main bearing housing.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OperationsHousing {
    /// What it is called; each housing its own.
    number: u32,
    /// Its bore square to the cap's joint, cap tightened.
    bore: LengthInput,
}

/// What is wanted of the block and of what is bolted to it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OperationsPlan {
    /// Finished bore of all cylinders.
    bore: Option<LengthInput>,
    /// What the boring bar leaves for the hone, on the diameter; needed with a bore.
    honing_allowance: Option<LengthInput>,
    /// Whether the hone runs with a torque plate bolted on; not when absent.
    torque_plate: Option<bool>,
    /// The thinnest wall that the caller accepts; without it walls are reported, not judged.
    least_wall: Option<LengthInput>,
    /// The sleeve for a cylinder that cannot be bored to the plan.
    sleeve: Option<OperationsSleeve>,
    /// Finished deck height of all banks.
    deck_height: Option<LengthInput>,
    /// Finished bore of the main bearing housings.
    main_housing_bore: Option<LengthInput>,
    /// Taken off the joints of the main caps before the line-hone; nothing when absent.
    cap_cut: Option<LengthInput>,
    /// What is done to the heads; nothing when absent.
    #[schema(max_items = 49)]
    heads: Option<Vec<OperationsHead>>,
    /// Taken off both end rails of manifold or block; nothing when absent.
    end_rail_cut: Option<LengthInput>,
    /// The most that one pass takes; without it passes are not counted.
    stock_per_pass: Option<OperationsStockPerPass>,
}

/// A sleeve to press in.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OperationsSleeve {
    /// Outside diameter.
    outside_diameter: LengthInput,
    /// Inside diameter as delivered.
    inside_diameter: LengthInput,
    /// By how much it is larger than the bore it goes into.
    interference: LengthInput,
}

/// One head.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OperationsHead {
    /// Number of the bank it stands on.
    bank: u32,
    /// Taken off its face; nothing when absent.
    head_cut: Option<LengthInput>,
    /// Taken off its intake face, or off the manifold's side there; nothing when absent.
    intake_side_cut: Option<LengthInput>,
}

/// The most that one pass takes.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OperationsStockPerPass {
    /// Boring, on the diameter.
    boring: Option<LengthInput>,
    /// Decking and other flat cuts, in depth.
    milling: Option<LengthInput>,
}

impl OperationsRequest {
    /// Block and plan in core quantities.
    pub(crate) fn core(&self) -> core::OperationsInput {
        core::OperationsInput { measured: self.measured.core(self.units), plan: self.plan.core(self.units) }
    }
}

fn optional(length: Option<LengthInput>, units: Units) -> Option<Length> {
    length.map(|length| length.core(units))
}

fn depth(length: Option<LengthInput>, units: Units) -> Length {
    optional(length, units).unwrap_or_default()
}

impl OperationsBlock {
    fn core(&self, units: Units) -> core::MeasuredBlock {
        let cylinder = |cylinder: &OperationsCylinder| core::MeasuredCylinder {
            number: cylinder.number,
            largest_bore: cylinder.largest_bore.core(units),
            smallest_bore: optional(cylinder.smallest_bore, units),
            thinnest_wall: optional(cylinder.thinnest_wall, units),
        };
        let bank = |bank: &OperationsBank| core::MeasuredBank {
            number: bank.number,
            deck_heights: bank.deck_heights.iter().map(|height| height.core(units)).collect(),
        };
        let housing = |housing: &OperationsHousing| core::MeasuredHousing {
            number: housing.number,
            bore: housing.bore.core(units),
        };
        core::MeasuredBlock {
            cylinders: self.cylinders.iter().flatten().map(cylinder).collect(),
            banks: self.banks.iter().flatten().map(bank).collect(),
            main_housings: self.main_housings.iter().flatten().map(housing).collect(),
        }
    }
}

impl OperationsPlan {
    fn core(&self, units: Units) -> core::Plan {
        let head = |head: &OperationsHead| core::PlannedHead {
            bank: head.bank,
            head_cut: depth(head.head_cut, units),
            intake_side_cut: depth(head.intake_side_cut, units),
        };
        let per_pass = self.stock_per_pass.as_ref();
        core::Plan {
            bore: optional(self.bore, units),
            honing_allowance: optional(self.honing_allowance, units),
            torque_plate: self.torque_plate.unwrap_or_default(),
            least_wall: optional(self.least_wall, units),
            sleeve: self.sleeve.as_ref().map(|sleeve| core::Sleeve {
                outside_diameter: sleeve.outside_diameter.core(units),
                inside_diameter: sleeve.inside_diameter.core(units),
                interference: sleeve.interference.core(units),
            }),
            deck_height: optional(self.deck_height, units),
            main_housing_bore: optional(self.main_housing_bore, units),
            cap_cut: depth(self.cap_cut, units),
            heads: self.heads.iter().flatten().map(head).collect(),
            end_rail_cut: depth(self.end_rail_cut, units),
            stock_per_pass: core::StockPerPass {
                boring: per_pass.and_then(|limits| optional(limits.boring, units)),
                milling: per_pass.and_then(|limits| optional(limits.milling, units)),
            },
        }
    }
}
