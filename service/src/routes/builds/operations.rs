//! `/v1/builds/operations`

use calc_core::build::operation_rules::{Measurement, Operation, Place};
use calc_core::build::operations as core;
use calc_core::caution::COMMON_PRACTICE;
use calc_core::error::Error;
use serde::Serialize;
use utoipa::ToSchema;

use super::measured_block::OperationsRequest;
use crate::calculation::Calculation;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{LengthOutput, out};
use crate::wire::{ShortText, Units};

/// The machine operations that a plan implies.
#[derive(Debug, Serialize, ToSchema)]
pub struct OperationsResponse {
    /// The identifier of the request, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<ShortText>,
    /// Unit system of the answer.
    units: Units,
    /// In an order that keeps every constraint.
    operations: Vec<MachineOperation>,
    /// Walls after boring, for every cylinder whose wall was measured; only with a planned bore.
    walls: Vec<OperationsWall>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// One line to price.
#[derive(Debug, Serialize, ToSchema)]
pub struct MachineOperation {
    /// Its place in the order, from 1.
    sequence: u32,
    /// What is done.
    operation: OperationsName,
    /// Where it is done.
    place: OperationsPlace,
    /// Which cylinders, banks or housings, by their numbers; empty for the end rails.
    numbers: Vec<u32>,
    /// How many times it is done.
    count: u32,
    /// Size or height at the place with most metal; absent for a cut of a given depth.
    #[serde(skip_serializing_if = "Option::is_none")]
    from_size: Option<LengthOutput>,
    /// Size or height afterwards; absent for a cut of a given depth.
    #[serde(skip_serializing_if = "Option::is_none")]
    to_size: Option<LengthOutput>,
    /// What comes off at that place: on the diameter of a bore, in depth on a face; absent where nothing comes off.
    #[serde(skip_serializing_if = "Option::is_none")]
    stock: Option<LengthOutput>,
    /// How many passes each takes; only with a limit per pass for its machine.
    #[serde(skip_serializing_if = "Option::is_none")]
    passes: Option<u32>,
    /// Whether a torque plate is bolted on.
    torque_plate: bool,
    /// What must be done before it.
    constraints: Vec<OperationsConstraint>,
    /// What to measure before it; common practice.
    measure_before: Vec<OperationsMeasurement>,
    /// What to measure after it; common practice.
    measure_after: Vec<OperationsMeasurement>,
}

/// An earlier operation that one needs.
#[derive(Debug, Serialize, ToSchema)]
pub struct OperationsConstraint {
    /// Sequence number of the earlier one.
    after: u32,
    /// Stable code in snake_case.
    code: &'static str,
    /// Why.
    reason: &'static str,
    /// Who says so.
    source: &'static str,
}

/// The wall of one cylinder.
#[derive(Debug, Serialize, ToSchema)]
pub struct OperationsWall {
    /// Number of the cylinder.
    cylinder: u32,
    /// Whether it gets the sleeve.
    sleeved: bool,
    /// Thinnest wall of the block itself after boring, for the sleeve where there is one.
    wall: LengthOutput,
}

/// A machine operation, by the trade's name.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OperationsName {
    /// Milling the joints of the main caps, so that the housings become too small.
    CutMainCaps,
    /// Honing all main bearing housings in one line (align-honing).
    LineHone,
    /// Boring a cylinder to take a sleeve.
    BoreForSleeve,
    /// Pressing a sleeve in.
    FitSleeve,
    /// Milling a deck.
    DeckBlock,
    /// Boring a cylinder.
    BoreCylinder,
    /// Honing a cylinder to its finished size.
    HoneCylinder,
    /// Milling the face of a head.
    MillHead,
    /// Milling an intake face, or the manifold's side there.
    MillIntakeSide,
    /// Milling the end rails.
    MillEndRails,
}

/// Where an operation is done.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OperationsPlace {
    /// Main caps.
    MainCap,
    /// Main bearing housings.
    MainHousing,
    /// Cylinders.
    Cylinder,
    /// Decks, by bank.
    Deck,
    /// Faces of heads, by bank.
    HeadFace,
    /// Intake sides, by bank.
    IntakeSide,
    /// Both end rails.
    EndRail,
}

/// What is measured.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OperationsMeasurement {
    /// Bores of the main bearing housings, caps tightened.
    MainHousingBores,
    /// How straight the housings lie.
    MainHousingLine,
    /// Crank axis to camshaft axis.
    CrankToCamDistance,
    /// Crank axis to deck, at several places.
    DeckHeights,
    /// How flat the deck is.
    DeckFlatness,
    /// Bores at several depths, in two directions.
    Bores,
    /// Walls, by ultrasound.
    WallThickness,
    /// Diameters of the sleeve.
    SleeveDiameters,
    /// Diameters of the pistons.
    PistonDiameters,
    /// How flat the head is.
    HeadFlatness,
    /// Volumes of the combustion chambers.
    ChamberVolumes,
    /// Valve to piston.
    ValveToPistonClearance,
    /// Manifold ports and bolt holes against those of the heads.
    PortAlignment,
    /// Gaps at the end rails.
    EndRailGaps,
}

/// The calculation.
pub struct Operations;

impl Calculation for Operations {
    const PATH: &'static str = "/v1/builds/operations";
    const SUMMARY: &'static str = "A measured block and a plan: the machine operations to price";
    const DESCRIPTION: &'static str = "Every operation that the plan implies, with where, how many, from which size to which, \
        passes, the operations that must come before it, and what to measure before and after. Cylinders that the plan cannot \
        be bored in get the sleeve when one is given.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "operations";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/blocks/slipway_v8.json");
    const HAS_QUERY: bool = false;
    type Request = OperationsRequest;
    type Response = OperationsResponse;

    fn run(request: OperationsRequest) -> Result<OperationsResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&request.core())?;
        let wall = |left: core::WallLeft| OperationsWall {
            cylinder: left.cylinder,
            sleeved: left.sleeved,
            wall: out(left.wall, units),
        };
        Ok(OperationsResponse {
            id: request.id,
            units,
            operations: found.operations.into_iter().map(|line| MachineOperation::new(line, units)).collect(),
            walls: found.walls.into_iter().map(wall).collect(),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl MachineOperation {
    fn new(line: core::MachineOperation, units: Units) -> Self {
        let constraint = |constraint: core::Constraint| OperationsConstraint {
            after: constraint.after,
            code: constraint.rule.code,
            reason: constraint.rule.reason,
            source: COMMON_PRACTICE,
        };
        let [before, after] = line.operation.measurements();
        let measure = |list: &[Measurement]| list.iter().copied().map(OperationsMeasurement::new).collect();
        Self {
            sequence: line.sequence,
            operation: OperationsName::new(line.operation),
            place: OperationsPlace::new(line.operation.place()),
            numbers: line.numbers,
            count: line.count,
            from_size: line.from_size.map(|size| out(size, units)),
            to_size: line.to_size.map(|size| out(size, units)),
            stock: line.stock.map(|stock| out(stock, units)),
            passes: line.passes,
            torque_plate: line.torque_plate,
            constraints: line.constraints.into_iter().map(constraint).collect(),
            measure_before: measure(before),
            measure_after: measure(after),
        }
    }
}

impl OperationsName {
    fn new(operation: Operation) -> Self {
        match operation {
            Operation::CutMainCaps => Self::CutMainCaps,
            Operation::LineHone => Self::LineHone,
            Operation::BoreForSleeve => Self::BoreForSleeve,
            Operation::FitSleeve => Self::FitSleeve,
            Operation::DeckBlock => Self::DeckBlock,
            Operation::BoreCylinder => Self::BoreCylinder,
            Operation::HoneCylinder => Self::HoneCylinder,
            Operation::MillHead => Self::MillHead,
            Operation::MillIntakeSide => Self::MillIntakeSide,
            Operation::MillEndRails => Self::MillEndRails,
        }
    }
}

impl OperationsPlace {
    fn new(place: Place) -> Self {
        match place {
            Place::MainCap => Self::MainCap,
            Place::MainHousing => Self::MainHousing,
            Place::Cylinder => Self::Cylinder,
            Place::Deck => Self::Deck,
            Place::HeadFace => Self::HeadFace,
            Place::IntakeSide => Self::IntakeSide,
            Place::EndRail => Self::EndRail,
        }
    }
}

impl OperationsMeasurement {
    fn new(measurement: Measurement) -> Self {
        match measurement {
            Measurement::MainHousingBores => Self::MainHousingBores,
            Measurement::MainHousingLine => Self::MainHousingLine,
            Measurement::CrankToCamDistance => Self::CrankToCamDistance,
            Measurement::DeckHeights => Self::DeckHeights,
            Measurement::DeckFlatness => Self::DeckFlatness,
            Measurement::Bores => Self::Bores,
            Measurement::WallThickness => Self::WallThickness,
            Measurement::SleeveDiameters => Self::SleeveDiameters,
            Measurement::PistonDiameters => Self::PistonDiameters,
            Measurement::HeadFlatness => Self::HeadFlatness,
            Measurement::ChamberVolumes => Self::ChamberVolumes,
            Measurement::ValveToPistonClearance => Self::ValveToPistonClearance,
            Measurement::PortAlignment => Self::PortAlignment,
            Measurement::EndRailGaps => Self::EndRailGaps,
        }
    }
}
