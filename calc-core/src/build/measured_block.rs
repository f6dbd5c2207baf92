//! A block as measured, the plan for it, and the rules that tie them together.

use validator::{Validate, ValidationError};

use crate::error::broken_rule;
use crate::limit::{self, MOST_CYLINDERS};
use crate::units::{Length, Quantity};

use super::operation_rules::Operation;

/// Most readings of one deck.
pub const MOST_READINGS: usize = 1000;

/// A difference smaller than this is rounding (a hundredth of a micrometre): sizes may come in different units.
pub(crate) const ROUNDING: f64 = 1e-8;

/// Whether one length is below another by more than rounding.
pub(crate) fn below(one: Length, other: Length) -> bool {
    one.metres() < other.metres() - ROUNDING
}

/// What is there and what is wanted.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "something_is_planned", skip_on_field_errors = false))]
#[validate(schema(function = "planned_bore_has_cylinders", skip_on_field_errors = false))]
#[validate(schema(function = "planned_deck_is_there", skip_on_field_errors = false))]
#[validate(schema(function = "line_hone_cleans_up", skip_on_field_errors = false))]
pub struct OperationsInput {
    /// The block as measured.
    #[validate(nested)]
    pub measured: MeasuredBlock,
    /// The plan.
    #[validate(nested)]
    pub plan: Plan,
}

/// A block as measured.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "numbers_are_unique", skip_on_field_errors = false))]
pub struct MeasuredBlock {
    /// Its cylinders.
    #[validate(nested)]
    pub cylinders: Vec<MeasuredCylinder>,
    /// Its banks.
    #[validate(nested)]
    pub banks: Vec<MeasuredBank>,
    /// Its main bearing housings.
    #[validate(nested)]
    pub main_housings: Vec<MeasuredHousing>,
}

/// One cylinder.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "smallest_is_not_above_largest", skip_on_field_errors = false))]
pub struct MeasuredCylinder {
    /// What it is called.
    pub number: u32,
    /// The largest reading of its bore.
    #[validate(custom(function = "limit::bore"))]
    pub largest_bore: Length,
    /// The smallest; like the largest when absent.
    #[validate(custom(function = "limit::bore"))]
    pub smallest_bore: Option<Length>,
    /// The thinnest place of its wall.
    #[validate(custom(function = "limit::cylinder_wall"))]
    pub thinnest_wall: Option<Length>,
}

/// One bank.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct MeasuredBank {
    /// What it is called.
    pub number: u32,
    /// Crank axis to deck, at any number of places.
    #[validate(custom(function = "check_deck_heights"))]
    pub deck_heights: Vec<Length>,
}

/// One main bearing housing.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct MeasuredHousing {
    /// What it is called.
    pub number: u32,
    /// Its bore square to the cap's joint, cap tightened.
    #[validate(custom(function = "limit::main_housing_bore"))]
    pub bore: Length,
}

/// What is wanted of the block and of what is bolted to it.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "few_heads", skip_on_field_errors = false))]
pub struct Plan {
    /// Finished bore.
    #[validate(custom(function = "limit::bore"))]
    pub bore: Option<Length>,
    /// Left by the boring bar for the hone, on the diameter.
    #[validate(custom(function = "limit::honing_allowance"))]
    pub honing_allowance: Option<Length>,
    /// Whether the hone runs with a torque plate bolted on.
    pub torque_plate: bool,
    /// The thinnest wall that the caller accepts.
    #[validate(custom(function = "limit::cylinder_wall"))]
    pub least_wall: Option<Length>,
    /// The sleeve for a cylinder that cannot be bored.
    #[validate(nested)]
    pub sleeve: Option<Sleeve>,
    /// Finished deck height.
    #[validate(custom(function = "limit::deck_height"))]
    pub deck_height: Option<Length>,
    /// Finished bore of the main bearing housings.
    #[validate(custom(function = "limit::main_housing_bore"))]
    pub main_housing_bore: Option<Length>,
    /// Taken off the main caps' joints before.
    #[validate(custom(function = "limit::face_cut"))]
    pub cap_cut: Length,
    /// What is done to the heads.
    #[validate(nested)]
    pub heads: Vec<PlannedHead>,
    /// Taken off both end rails of the manifold or the block.
    #[validate(custom(function = "limit::face_cut"))]
    pub end_rail_cut: Length,
    /// The most that one pass takes.
    #[validate(nested)]
    pub stock_per_pass: StockPerPass,
}

/// A sleeve to press in.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "sleeve_is_hollow", skip_on_field_errors = false))]
pub struct Sleeve {
    /// Outside diameter.
    #[validate(custom(function = "limit::bore"))]
    pub outside_diameter: Length,
    /// Inside diameter as delivered.
    #[validate(custom(function = "limit::bore"))]
    pub inside_diameter: Length,
    /// By how much it is larger than the bore it goes into.
    #[validate(custom(function = "limit::sleeve_interference"))]
    pub interference: Length,
}

/// One head.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct PlannedHead {
    /// The bank it stands on.
    pub bank: u32,
    /// Taken off its face.
    #[validate(custom(function = "limit::face_cut"))]
    pub head_cut: Length,
    /// Taken off its intake face, or off the manifold's side there.
    #[validate(custom(function = "limit::face_cut"))]
    pub intake_side_cut: Length,
}

/// The most that one pass takes; without it passes are not counted.
#[derive(Debug, Clone, Default, PartialEq, Validate)]
pub struct StockPerPass {
    /// Boring, on the diameter.
    #[validate(custom(function = "limit::stock_per_pass"))]
    pub boring: Option<Length>,
    /// Decking and other flat cuts, in depth.
    #[validate(custom(function = "limit::stock_per_pass"))]
    pub milling: Option<Length>,
}

impl MeasuredCylinder {
    /// The tightest place of the bore: the one with most metal to take.
    pub(crate) fn tightest(&self) -> Length {
        self.smallest_bore.unwrap_or(self.largest_bore)
    }

    /// The thinnest wall after boring to a size on the present centre, taken from the tightest reading: on the safe side.
    pub(crate) fn wall_left(&self, bore: Length) -> Option<Length> {
        let taken = (bore.metres() - self.tightest().metres()) / 2.0;
        self.thinnest_wall.map(|wall| Length::from_metres(wall.metres() - taken))
    }
}

impl Sleeve {
    /// The bore that it is pressed into.
    pub(crate) fn housing(&self) -> Length {
        Length::from_metres(self.outside_diameter.metres() - self.interference.metres())
    }
}

impl StockPerPass {
    /// The limit of an operation, when one is given for its machine.
    pub(crate) fn of(&self, operation: Operation) -> Option<Length> {
        match operation {
            Operation::BoreForSleeve | Operation::BoreCylinder => self.boring,
            Operation::LineHone | Operation::HoneCylinder | Operation::FitSleeve => None,
            Operation::CutMainCaps
            | Operation::DeckBlock
            | Operation::MillHead
            | Operation::MillIntakeSide
            | Operation::MillEndRails => self.milling,
        }
    }
}

impl OperationsInput {
    /// The sleeve that this cylinder gets, if one is given and needed.
    pub(crate) fn sleeve_for(&self, cylinder: &MeasuredCylinder, bore: Length) -> Option<&Sleeve> {
        self.plan.sleeve.as_ref().filter(|_| self.needs_sleeve(cylinder, bore))
    }

    /// Whether this cylinder needs the sleeve: too large, too thin, or thinner than the caller accepts.
    pub(crate) fn needs_sleeve(&self, cylinder: &MeasuredCylinder, bore: Length) -> bool {
        let least = self.plan.least_wall.unwrap_or_default();
        let too_thin = |wall: Length| wall <= Length::default() || below(wall, least);
        below(bore, cylinder.largest_bore) || cylinder.wall_left(bore).is_some_and(too_thin)
    }
}

/// The highest and the lowest reading.
pub(crate) fn extremes(readings: &[Length]) -> (Length, Length) {
    let metres = readings.iter().map(|reading| reading.metres());
    let (low, high) = metres.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| (low.min(one), high.max(one)));
    (Length::from_metres(high), Length::from_metres(low))
}

fn check_deck_heights(heights: &[Length]) -> Result<(), ValidationError> {
    if heights.is_empty() || heights.len() > MOST_READINGS {
        let detail = format!("must hold from 1 to {MOST_READINGS} readings; got {}.", heights.len());
        return Err(ValidationError::new("wrong_length").with_message(detail.into()));
    }
    heights.iter().try_for_each(limit::deck_height)
}

/// One more than the cylinders: main bearings, or heads that hold one cylinder each.
const MOST_ENTRIES: usize = MOST_CYLINDERS as usize + 1;

fn few_enough(field: &'static str, count: usize) -> Result<(), ValidationError> {
    if count <= MOST_ENTRIES {
        return Ok(());
    }
    Err(broken_rule(field, "too_many", format!("has {count} entries; at most {MOST_ENTRIES} are taken.")))
}

fn few_heads(plan: &Plan) -> Result<(), ValidationError> {
    few_enough("heads", plan.heads.len())
}

fn numbers_are_unique(block: &MeasuredBlock) -> Result<(), ValidationError> {
    let lists: [(&'static str, Vec<u32>); 3] = [
        ("cylinders", block.cylinders.iter().map(|cylinder| cylinder.number).collect()),
        ("banks", block.banks.iter().map(|bank| bank.number).collect()),
        ("main_housings", block.main_housings.iter().map(|housing| housing.number).collect()),
    ];
    for (field, numbers) in lists {
        few_enough(field, numbers.len())?;
        if let Some((_, twice)) = numbers.iter().enumerate().find(|(index, number)| numbers[..*index].contains(number))
        {
            return Err(broken_rule(field, "contradiction", format!("has number {twice} twice; give each its own.")));
        }
    }
    Ok(())
}

fn smallest_is_not_above_largest(cylinder: &MeasuredCylinder) -> Result<(), ValidationError> {
    if cylinder.tightest() <= cylinder.largest_bore {
        return Ok(());
    }
    let detail = format!("must not be above largest_bore, {}.", cylinder.largest_bore.shown());
    Err(broken_rule("smallest_bore", "contradiction", detail))
}

fn sleeve_is_hollow(sleeve: &Sleeve) -> Result<(), ValidationError> {
    if sleeve.inside_diameter < sleeve.housing() {
        return Ok(());
    }
    let detail = format!("must be below the bore that the sleeve goes into, {}.", sleeve.housing().shown());
    Err(broken_rule("inside_diameter", "contradiction", detail))
}

fn something_is_planned(input: &OperationsInput) -> Result<(), ValidationError> {
    let plan = &input.plan;
    let sizes = [plan.bore, plan.deck_height, plan.main_housing_bore];
    if sizes.iter().any(Option::is_some) || !plan.heads.is_empty() || plan.end_rail_cut > Length::default() {
        return Ok(());
    }
    let detail = "asks for nothing: give bore, deck_height, main_housing_bore, heads or end_rail_cut.";
    Err(broken_rule("plan", "under_determined", detail.to_owned()))
}

fn planned_bore_has_cylinders(input: &OperationsInput) -> Result<(), ValidationError> {
    let Some(bore) = input.plan.bore else { return Ok(()) };
    if input.measured.cylinders.is_empty() {
        let detail = "is empty: a planned bore needs the measured cylinders.";
        return Err(broken_rule("measured/cylinders", "missing", detail.to_owned()));
    }
    let Some(allowance) = input.plan.honing_allowance else {
        let detail = "is missing: a planned bore needs what is left for the hone.";
        return Err(broken_rule("plan/honing_allowance", "missing", detail.to_owned()));
    };
    let sleeved = input.measured.cylinders.iter().filter(|cylinder| input.needs_sleeve(cylinder, bore));
    for cylinder in sleeved {
        match &input.plan.sleeve {
            Some(sleeve) => sleeve_fits(cylinder, sleeve, Length::from_metres(bore.metres() - allowance.metres()))?,
            None => bore_fits(cylinder, bore)?,
        }
    }
    Ok(())
}

fn bore_fits(cylinder: &MeasuredCylinder, bore: Length) -> Result<(), ValidationError> {
    let number = cylinder.number;
    let refuse = |detail: String| Err(broken_rule("plan/bore", "contradiction", detail));
    if below(bore, cylinder.largest_bore) {
        let largest = cylinder.largest_bore.shown();
        return refuse(format!(
            "must be at least {largest}, the largest reading of cylinder {number}, or give a sleeve."
        ));
    }
    match cylinder.wall_left(bore) {
        Some(wall) if wall <= Length::default() => refuse(format!(
            "cuts through the wall of cylinder {number}, which would be left with {}; choose a smaller bore or give a sleeve.",
            wall.shown()
        )),
        _ => Ok(()),
    }
}

fn sleeve_fits(cylinder: &MeasuredCylinder, sleeve: &Sleeve, bored: Length) -> Result<(), ValidationError> {
    if sleeve.housing() <= cylinder.largest_bore {
        let detail = format!(
            "less the interference must be above {}, the largest reading of cylinder {}; got {}.",
            cylinder.largest_bore.shown(),
            cylinder.number,
            sleeve.housing().shown()
        );
        return Err(broken_rule("plan/sleeve/outside_diameter", "contradiction", detail));
    }
    if below(bored, sleeve.inside_diameter) {
        let detail = format!("must be at most {}, the planned bore less what is left for the hone.", bored.shown());
        return Err(broken_rule("plan/sleeve/inside_diameter", "contradiction", detail));
    }
    Ok(())
}

fn planned_deck_is_there(input: &OperationsInput) -> Result<(), ValidationError> {
    let Some(height) = input.plan.deck_height else { return Ok(()) };
    if input.measured.banks.is_empty() {
        let detail = "is empty: a planned deck height needs the measured banks.";
        return Err(broken_rule("measured/banks", "missing", detail.to_owned()));
    }
    for bank in &input.measured.banks {
        let (_, lowest) = extremes(&bank.deck_heights);
        if below(lowest, height) {
            let detail = format!(
                "must be at most {}, the lowest reading of bank {}, or that place is not cut.",
                lowest.shown(),
                bank.number
            );
            return Err(broken_rule("plan/deck_height", "contradiction", detail));
        }
    }
    Ok(())
}

fn line_hone_cleans_up(input: &OperationsInput) -> Result<(), ValidationError> {
    let (plan, housings) = (&input.plan, &input.measured.main_housings);
    let Some(finished) = plan.main_housing_bore else {
        if plan.cap_cut > Length::default() {
            let detail = "is missing: cut caps need the size that the housings are honed to.";
            return Err(broken_rule("plan/main_housing_bore", "missing", detail.to_owned()));
        }
        return Ok(());
    };
    if housings.is_empty() {
        let detail = "is empty: a planned housing size needs the measured housings.";
        return Err(broken_rule("measured/main_housings", "missing", detail.to_owned()));
    }
    for housing in housings {
        let needed = housing.bore.metres() - finished.metres();
        if needed >= plan.cap_cut.metres() {
            let detail = format!(
                "must be above {}, so that housing {} ({}) has metal for the hone.",
                Length::from_metres(needed).shown(),
                housing.number,
                housing.bore.shown()
            );
            return Err(broken_rule("plan/cap_cut", "contradiction", detail));
        }
    }
    Ok(())
}
