//! The build sheet and its rules.

use validator::{Validate, ValidationError, ValidationErrors};

use crate::compression::r#static::{Names, check_gasket_opening, check_top_land};
use crate::compression::valve_event::check_seat;
use crate::error::broken_rule;
use crate::geometry::slider_crank::check_rod;
use crate::limit;
use crate::oil::budget::OilSystem;
use crate::units::{Altitude, Angle, Area, Length, RotationalSpeed, Temperature, Volume};

/// One engine as planned or as measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Build {
    /// Cylinders and how they stand.
    pub engine: Engine,
    /// The block.
    pub block: Block,
    /// The crankshaft.
    pub crankshaft: Crankshaft,
    /// The connecting rods.
    pub connecting_rod: ConnectingRod,
    /// The pistons.
    pub piston: Piston,
    /// The cylinder heads.
    pub cylinder_head: CylinderHead,
    /// The head gasket.
    pub head_gasket: HeadGasket,
    /// The camshaft, when chosen.
    pub camshaft: Option<Camshaft>,
    /// How the engine is to run, when known.
    pub running: Option<Running>,
    /// The air it breathes, when known.
    pub atmosphere: Option<Atmosphere>,
    /// What was measured cylinder by cylinder, when it was.
    pub measured: Option<Measured>,
    /// The oil system, when known; boxed, for most sheets have none and should not carry its size.
    pub oil: Option<Box<OilSystem>>,
}

/// By hand, because the derived form fills a hash table for every section of every sound sheet.
impl Validate for Build {
    fn validate(&self) -> Result<(), ValidationErrors> {
        let mut errors = ValidationErrors::new();
        errors.merge_self("engine", self.engine.validate());
        errors.merge_self("block", self.block.validate());
        errors.merge_self("crankshaft", self.crankshaft.validate());
        errors.merge_self("connecting_rod", self.connecting_rod.validate());
        errors.merge_self("piston", self.piston.validate());
        errors.merge_self("cylinder_head", self.cylinder_head.validate());
        errors.merge_self("head_gasket", self.head_gasket.validate());
        errors.merge_self("camshaft", self.camshaft.as_ref().map_or(Ok(()), Validate::validate));
        errors.merge_self("running", self.running.as_ref().map_or(Ok(()), Validate::validate));
        errors.merge_self("atmosphere", self.atmosphere.as_ref().map_or(Ok(()), Validate::validate));
        errors.merge_self("measured", self.measured.as_ref().map_or(Ok(()), Validate::validate));
        for rule in [rod_clears_crank, whole_top_land, a_chamber_each, a_deck_height_each] {
            if let Err(broken) = rule(self) {
                errors.add("__all__", broken);
            }
        }
        if errors.is_empty() { Ok(()) } else { Err(errors) }
    }
}

/// How the cylinders stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// One row.
    Inline,
    /// Two rows at an angle.
    Vee,
    /// Two rows opposite each other.
    Flat,
    /// Round the crank.
    Radial,
}

/// Cylinders and how they stand.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "bank_angle_belongs_to_a_vee", skip_on_field_errors = false))]
pub struct Engine {
    /// How many cylinders.
    #[validate(custom(function = "limit::cylinders"))]
    pub cylinders: u32,
    /// How they stand.
    pub layout: Layout,
    /// Angle between the banks of a vee.
    #[validate(custom(function = "limit::bank_angle"))]
    pub bank_angle: Option<Angle>,
    /// What the engine is called.
    #[validate(custom(function = "limit::displacement"))]
    pub label_displacement: Option<Volume>,
}

/// The block.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct Block {
    /// Cylinder bore.
    #[validate(custom(function = "limit::bore"))]
    pub bore: Length,
    /// Crank axis to deck.
    #[validate(custom(function = "limit::deck_height"))]
    pub deck_height: Length,
}

/// The crankshaft.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct Crankshaft {
    /// Twice the crank radius.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Length,
}

/// The connecting rods.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct ConnectingRod {
    /// Between the centres of the eyes.
    #[validate(custom(function = "limit::rod_length"))]
    pub length: Length,
}

/// The pistons.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct Piston {
    /// Pin axis to the flat of the crown.
    #[validate(custom(function = "limit::compression_height"))]
    pub compression_height: Length,
    /// Dish in the crown.
    #[validate(custom(function = "limit::crown_volume"))]
    pub dish_volume: Volume,
    /// Dome on the crown.
    #[validate(custom(function = "limit::crown_volume"))]
    pub dome_volume: Volume,
    /// Positive towards the minor thrust side.
    #[validate(custom(function = "limit::pin_offset"))]
    pub pin_offset: Length,
    /// Height of the land above the top ring.
    #[validate(custom(function = "limit::top_land_height"))]
    pub top_land_height: Option<Length>,
    /// Diameter of that land.
    #[validate(custom(function = "limit::bore"))]
    pub top_land_diameter: Option<Length>,
}

/// The cylinder heads.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct CylinderHead {
    /// Combustion chamber, spark plug and valves in place.
    #[validate(custom(function = "limit::chamber_volume"))]
    pub chamber_volume: Volume,
}

/// The head gasket.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "one_opening", skip_on_field_errors = false))]
pub struct HeadGasket {
    /// Diameter of a round opening.
    #[validate(custom(function = "limit::gasket_bore"))]
    pub bore: Option<Length>,
    /// Area of an opening that is not round.
    #[validate(custom(function = "limit::gasket_area"))]
    pub opening_area: Option<Area>,
    /// Thickness under the clamped head.
    #[validate(custom(function = "limit::gasket_thickness"))]
    pub compressed_thickness: Length,
}

/// The camshaft.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "seat_within_range", skip_on_field_errors = false))]
pub struct Camshaft {
    /// Intake closing, after bottom centre.
    #[validate(custom(function = "limit::intake_closing"))]
    pub intake_closes_abdc: Angle,
    /// The lift at which that is stated.
    #[validate(custom(function = "limit::event_lift"))]
    pub at_lift: Option<Length>,
    /// How much later than that the valve seats.
    #[validate(custom(function = "limit::seat_difference"))]
    pub seat_difference: Option<Angle>,
}

/// How the engine is to run.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct Running {
    /// Highest speed it is built for.
    #[validate(custom(function = "limit::engine_speed"))]
    pub engine_speed: RotationalSpeed,
}

/// The air that the engine breathes.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct Atmosphere {
    /// Geopotential altitude.
    #[validate(custom(function = "limit::altitude"))]
    pub altitude: Altitude,
    /// Temperature of the intake air; the standard's at that altitude when not given.
    #[validate(custom(function = "limit::intake_temperature"))]
    pub intake_temperature: Option<Temperature>,
}

/// What was measured cylinder by cylinder; the sheet's single figure stands for what was not.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct Measured {
    /// Combustion chambers in the order of the cylinders.
    #[validate(custom(function = "check_chambers"))]
    pub chamber_volumes: Option<Vec<Volume>>,
    /// Crank axis to deck at each cylinder, in the same order.
    #[validate(custom(function = "check_deck_heights"))]
    pub deck_heights: Option<Vec<Length>>,
}

fn check_chambers(volumes: &[Volume]) -> Result<(), ValidationError> {
    volumes.iter().try_for_each(limit::chamber_volume)
}

fn check_deck_heights(heights: &[Length]) -> Result<(), ValidationError> {
    heights.iter().try_for_each(limit::deck_height)
}

/// Where the fields of the static ratio stand in the sheet.
pub(crate) const STATIC_NAMES: Names = Names {
    gasket_bore: "head_gasket/bore",
    gasket_area: "head_gasket/opening_area",
    top_land_height: "piston/top_land_height",
    top_land_diameter: "piston/top_land_diameter",
    dome: "piston/dome_volume",
};

fn rod_clears_crank(build: &Build) -> Result<(), ValidationError> {
    let (stroke, rod) = (build.crankshaft.stroke, build.connecting_rod.length);
    check_rod("connecting_rod/length", "piston/pin_offset", stroke, rod, build.piston.pin_offset)
}

fn whole_top_land(build: &Build) -> Result<(), ValidationError> {
    let piston = &build.piston;
    check_top_land(&STATIC_NAMES, build.block.bore, piston.top_land_height, piston.top_land_diameter)
}

fn a_chamber_each(build: &Build) -> Result<(), ValidationError> {
    let given = build.measured.as_ref().and_then(|measured| measured.chamber_volumes.as_ref());
    one_each("measured/chamber_volumes", build.engine.cylinders, given.map(Vec::len))
}

fn a_deck_height_each(build: &Build) -> Result<(), ValidationError> {
    let given = build.measured.as_ref().and_then(|measured| measured.deck_heights.as_ref());
    one_each("measured/deck_heights", build.engine.cylinders, given.map(Vec::len))
}

fn one_each(field: &'static str, cylinders: u32, given: Option<usize>) -> Result<(), ValidationError> {
    match given {
        Some(count) if u32::try_from(count) != Ok(cylinders) => {
            let detail = format!("must have one entry for each of the {cylinders} cylinders; got {count}.");
            Err(broken_rule(field, "contradiction", detail))
        }
        _ => Ok(()),
    }
}

fn one_opening(gasket: &HeadGasket) -> Result<(), ValidationError> {
    let names = Names { gasket_bore: "bore", gasket_area: "opening_area", ..STATIC_NAMES };
    check_gasket_opening(&names, gasket.bore, gasket.opening_area)
}

fn seat_within_range(camshaft: &Camshaft) -> Result<(), ValidationError> {
    let closing = camshaft.intake_closes_abdc;
    check_seat("at_lift", "seat_difference", closing, camshaft.at_lift, camshaft.seat_difference)
}

fn bank_angle_belongs_to_a_vee(engine: &Engine) -> Result<(), ValidationError> {
    let detail = match (engine.layout, engine.bank_angle) {
        (Layout::Inline | Layout::Radial, Some(_)) => "belongs to a vee; leave it out for this layout.",
        (Layout::Flat, Some(angle)) if (angle.degrees() - 180.0).abs() > 1e-9 => {
            "of a flat engine is 180 degrees; leave it out, or call the layout a vee."
        }
        _ => return Ok(()),
    };
    Err(broken_rule("bank_angle", "contradiction", detail.to_owned()))
}
