//! Everything that follows from a build sheet.

use validator::Validate;

use crate::caution::{About, COMMON_PRACTICE, Caution, STANDING, Severity};
use crate::compression::end_state::{CrankingBand, compressed_air, cranking, cranking_note, real_gas_note};
use crate::compression::standard_atmosphere::{Charge, charge};
use crate::compression::r#static::{StaticInput, Volumes, gasket_overhang, ratio, ratio_caution, volumes};
use crate::compression::trapped::{AtClosing, at_closing};
use crate::compression::valve_event::{lift_caution, seated};
use crate::error::Error;
use crate::geometry::deck_stack::{pin_height_at_top_centre, squish_caution};
use crate::geometry::displacement::{cylinder_volume, label_caution, label_difference_ratio};
use crate::geometry::piston_motion::{self, fast_caution};
use crate::geometry::slider_crank::SliderCrank;
use crate::limit;
use crate::oil::budget::{self, Budget, BudgetInput};
use crate::units::{Angle, Length, Pressure, Ratio, Temperature, Volume};

use super::cylinders::{Cylinder, cylinders, spread};
use super::sheet::{Atmosphere, Build, Camshaft, STATIC_NAMES};

/// Counts the changes of the equations behind [`evaluate`]; a stored answer with another number was made by other equations.
pub const FORMULA_REVISION: u32 = 1;

/// Rod length over stroke outside this is unusual (Heywood, section 2.2: rod length 3 to 4 crank radii).
pub(crate) const ROD_STROKE_RATIOS: [f64; 2] = [1.5, 2.0];

/// The consequences of a build.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaluation {
    /// Sizes and motion.
    pub geometry: Geometry,
    /// Volumes and ratios.
    pub compression: Compression,
    /// Where the oil goes, when oil system and engine speed are given.
    pub oil: Option<Box<Budget>>,
    /// Results that need an input which is not there.
    pub missing: Vec<Missing>,
    /// What to look at twice; the standing caution comes last.
    pub cautions: Vec<Caution>,
}

/// Sizes and motion.
#[derive(Debug, Clone, PartialEq)]
pub struct Geometry {
    /// Displacement of the whole engine.
    pub displacement: Volume,
    /// Computed displacement less the label, as a share of the label.
    pub label_difference_ratio: Option<f64>,
    /// Swept volume of one cylinder.
    pub swept_volume: Volume,
    /// Distance that the piston really travels.
    pub actual_stroke: Length,
    /// Bore divided by the crank's stroke.
    pub bore_stroke_ratio: f64,
    /// Rod length divided by the crank's stroke.
    pub rod_stroke_ratio: f64,
    /// Positive when the piston stops below the deck.
    pub deck_clearance: Length,
    /// Deck clearance plus compressed gasket.
    pub squish_clearance: Length,
    /// Crank angle after top centre at which the piston goes down fastest.
    pub peak_piston_speed_angle: Angle,
    /// Speeds and accelerations, when an engine speed is given.
    pub running: Option<piston_motion::Running>,
}

/// Volumes and ratios.
#[derive(Debug, Clone, PartialEq)]
pub struct Compression {
    /// (Vs + Vc)/Vc.
    pub static_ratio: f64,
    /// Volume above the piston at top centre.
    pub clearance_volume: Volume,
    /// The items of the clearance volume.
    pub volumes: Volumes,
    /// What the closing intake valve traps, when the camshaft is given.
    pub trapped: Option<AtClosing>,
    /// The charge and what compression makes of it, when camshaft and atmosphere are given.
    pub end_of_compression: Option<EndOfCompression>,
    /// Each cylinder by its own readings, when there are any.
    pub cylinders: Vec<Cylinder>,
    /// Highest of their ratios less the lowest.
    pub ratio_spread: Option<f64>,
}

/// The air trapped at the altitude, and its state when the piston has compressed it by the trapped ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndOfCompression {
    /// The air at intake closing.
    pub charge: Charge,
    /// Absolute pressure at the end.
    pub end_pressure: Pressure,
    /// Temperature at the end.
    pub end_temperature: Temperature,
    /// What a gauge may show on the starter.
    pub cranking: CrankingBand,
}

/// A result that could not be computed, and the input that it needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Missing {
    /// Path of the result in the answer.
    pub result: &'static str,
    /// Path of the input in the request.
    pub needs: &'static str,
}

/// Every consequence of a build sheet.
///
/// **Equation** Those of `displacement`, `deck-stack`, `slider-crank-exact`, `static-compression-ratio`,
/// `trapped-compression-ratio`, `standard-atmosphere`, `end-of-compression` and `oil-budget`; the swept volume uses the distance that the
/// piston really travels, the end of compression the trapped ratio.
///
/// **Shape** One build.
///
/// **Units** Any; angles count from true top centre.
///
/// **Valid for** What the single calculations are valid for.
///
/// **Errors** [`Error::Invalid`] with every field that is out of range and every rule that is broken; [`Error::NoSolution`]
/// when nothing is left above the piston.
///
/// **Source** Those of the single calculations.
pub fn evaluate(build: &Build) -> Result<Evaluation, Error> {
    let Evaluation { geometry, compression, .. } = numbers(build)?;
    let mut missing = Vec::new();
    if geometry.running.is_none() {
        missing.extend(RUNNING_RESULTS.map(|result| Missing { result, needs: "running/engine_speed" }));
    }
    if compression.trapped.is_none() {
        missing.extend(TRAPPED_RESULTS.map(|result| Missing { result, needs: "camshaft/intake_closes_abdc" }));
    }
    for (given, needs) in
        [(build.camshaft.is_some(), "camshaft/intake_closes_abdc"), (build.atmosphere.is_some(), "atmosphere/altitude")]
    {
        missing.extend((!given).then_some(Missing { result: "compression/end_of_compression", needs }));
    }
    if compression.cylinders.is_empty() {
        missing.extend(CYLINDER_RESULTS.map(|result| Missing { result, needs: "measured/chamber_volumes" }));
    }
    let oil = oil(build)?;
    if oil.is_none() {
        let needs = if build.oil.is_none() { "oil" } else { "running/engine_speed" };
        missing.push(Missing { result: "oil", needs });
    }
    let mut cautions = cautions(build, &geometry, &compression);
    cautions.extend(oil.iter().flat_map(|budget| oil_cautions(budget)));
    cautions.push(STANDING);
    Ok(Evaluation { geometry, compression, oil, missing, cautions })
}

fn oil(build: &Build) -> Result<Option<Box<Budget>>, Error> {
    let (Some(system), Some(running)) = (&build.oil, &build.running) else { return Ok(None) };
    let budget = budget::evaluate(&BudgetInput {
        cylinders: build.engine.cylinders,
        stroke: build.crankshaft.stroke,
        engine_speed: running.engine_speed,
        system,
        path: "oil",
        speed_path: "running/engine_speed",
    })?;
    Ok(Some(Box::new(budget)))
}

/// The budget's cautions where they stand in the sheet's answer; the standing caution stands once for all.
fn oil_cautions(budget: &Budget) -> impl Iterator<Item = Caution> + '_ {
    budget.cautions.iter().filter(|caution| **caution != STANDING).map(|caution| match caution.about {
        About::Answer => Caution { path: format!("oil/{}", caution.path).into(), ..caution.clone() },
        About::Request => caution.clone(),
    })
}

/// The same numbers without what is said about them: `missing` and `cautions` stay empty, and the oil budget is left out.
///
/// For calculations that evaluate a build many times.
///
/// **Equation**, **Shape**, **Units**, **Valid for**, **Errors** and **Source** are those of [`evaluate`].
pub fn numbers(build: &Build) -> Result<Evaluation, Error> {
    build.validate()?;
    let geometry = geometry(build)?;
    let compression = compression(build, &geometry)?;
    Ok(Evaluation { geometry, compression, oil: None, missing: Vec::new(), cautions: Vec::new() })
}

const RUNNING_RESULTS: [&str; 3] =
    ["geometry/mean_piston_speed", "geometry/peak_piston_speed", "geometry/peak_piston_acceleration"];
const CYLINDER_RESULTS: [&str; 2] = ["compression/cylinders", "compression/ratio_spread"];
const TRAPPED_RESULTS: [&str; 2] = ["compression/trapped_ratio", "compression/trapped_volume"];

fn train(build: &Build) -> SliderCrank {
    SliderCrank::new(build.crankshaft.stroke, build.connecting_rod.length, build.piston.pin_offset)
}

fn geometry(build: &Build) -> Result<Geometry, Error> {
    let (bore, stroke, rod) = (build.block.bore, build.crankshaft.stroke, build.connecting_rod.length);
    let train = train(build);
    let actual_stroke = Length::from_metres(train.actual_stroke());
    let swept_volume = cylinder_volume(bore, actual_stroke);
    let displacement = Volume::from_cubic_metres(f64::from(build.engine.cylinders) * swept_volume.cubic_metres());
    let pin = pin_height_at_top_centre(stroke, rod, build.piston.pin_offset).metres();
    let crown = build.piston.compression_height.metres();
    let deck_clearance = build.block.deck_height.metres() - pin - crown;
    let (peak_at, peak_rate) = train.peak_speed()?;
    let running = match &build.running {
        Some(wanted) => Some(piston_motion::running(&train, peak_rate, wanted.engine_speed)?),
        None => None,
    };
    Ok(Geometry {
        displacement,
        label_difference_ratio: build
            .engine
            .label_displacement
            .map(|label| label_difference_ratio(displacement, label)),
        swept_volume,
        actual_stroke,
        bore_stroke_ratio: bore.metres() / stroke.metres(),
        rod_stroke_ratio: rod.metres() / stroke.metres(),
        deck_clearance: Length::from_metres(deck_clearance),
        squish_clearance: Length::from_metres(deck_clearance + build.head_gasket.compressed_thickness.metres()),
        peak_piston_speed_angle: Angle::from_radians(peak_at - train.top_centre()),
        running,
    })
}

/// The items above the piston with a chamber and a deck clearance of their own.
pub(crate) fn clearance_volumes(
    build: &Build,
    geometry: &Geometry,
    chamber_volume: Volume,
    deck_clearance: Length,
) -> Volumes {
    volumes(&StaticInput {
        bore: build.block.bore,
        stroke: geometry.actual_stroke,
        chamber_volume,
        gasket_bore: build.head_gasket.bore,
        gasket_area: build.head_gasket.opening_area,
        gasket_thickness: build.head_gasket.compressed_thickness,
        deck_clearance,
        dish_volume: build.piston.dish_volume,
        dome_volume: build.piston.dome_volume,
        top_land_height: build.piston.top_land_height,
        top_land_diameter: build.piston.top_land_diameter,
        readings: None,
    })
}

fn compression(build: &Build, geometry: &Geometry) -> Result<Compression, Error> {
    let bore = build.block.bore;
    let volumes = clearance_volumes(build, geometry, build.cylinder_head.chamber_volume, geometry.deck_clearance);
    let clearance_volume = volumes.clearance();
    let closing = build.camshaft.as_ref().map(seat_closing);
    let trapped = closing.map(|closing| at_closing(&train(build), bore, clearance_volume, closing));
    let cylinders = cylinders(build, geometry)?;
    Ok(Compression {
        static_ratio: ratio(&STATIC_NAMES, geometry.swept_volume, clearance_volume)?,
        clearance_volume,
        volumes,
        trapped,
        end_of_compression: match (trapped, &build.atmosphere) {
            (Some(trapped), Some(air)) if limit::COMPRESSION_RATIO.accepts(&Ratio::from_plain(trapped.ratio)) => {
                Some(end_of_compression(air, trapped.ratio)?)
            }
            _ => None,
        },
        ratio_spread: spread(&cylinders),
        cylinders,
    })
}

fn end_of_compression(air: &Atmosphere, trapped_ratio: f64) -> Result<EndOfCompression, Error> {
    let charge = charge(air.altitude, air.intake_temperature, None)?;
    let (end_pressure, end_temperature) = compressed_air(&charge.trapped, trapped_ratio)?;
    let cranking = cranking(charge.ambient.pressure, trapped_ratio);
    Ok(EndOfCompression { charge, end_pressure, end_temperature, cranking })
}

fn seat_closing(camshaft: &Camshaft) -> Angle {
    seated(camshaft.intake_closes_abdc, camshaft.seat_difference)
}

fn cautions(build: &Build, geometry: &Geometry, compression: &Compression) -> Vec<Caution> {
    let mut cautions = Vec::new();
    unusual_inputs(build, &mut cautions);
    limit::DECK_CLEARANCE.unusual("block/deck_height", geometry.deck_clearance, &mut cautions);
    let label = build.engine.label_displacement;
    cautions.extend(label.and_then(|label| label_caution("engine/label_displacement", geometry.displacement, label)));
    cautions.extend(gasket_overhang("head_gasket/bore", build.block.bore, build.head_gasket.bore));
    cautions.extend(squish_caution("geometry/squish_clearance", geometry.squish_clearance));
    cautions.extend(rod_caution(geometry.rod_stroke_ratio));
    cautions.extend(geometry.running.and_then(|run| fast_caution("geometry/mean_piston_speed", run.mean_speed)));
    cautions.extend(ratio_caution("compression/static_ratio", compression.static_ratio));
    cautions.extend(
        build.camshaft.as_ref().and_then(|camshaft| {
            lift_caution("camshaft/intake_closes_abdc", camshaft.at_lift, camshaft.seat_difference)
        }),
    );
    if let (Some(trapped), Some(_), None) = (&compression.trapped, &build.atmosphere, &compression.end_of_compression) {
        cautions.push(no_end_of_compression(trapped.ratio));
    }
    if compression.end_of_compression.is_some() {
        cautions.push(real_gas_note("compression/end_of_compression/end_pressure"));
        cautions.push(cranking_note("compression/end_of_compression/cranking_gauge_pressure"));
    }
    cautions
}

/// Why the end of compression is absent though all that it needs is there.
fn no_end_of_compression(trapped_ratio: f64) -> Caution {
    let [low, high] = [limit::COMPRESSION_RATIO.min, limit::COMPRESSION_RATIO.max].map(|end| end.plain());
    Caution {
        code: "end_of_compression_out_of_range",
        severity: Severity::Caution,
        about: About::Answer,
        path: "compression/trapped_ratio".into(),
        detail: format!(
            "A trapped ratio of {trapped_ratio:.2} is outside {low} to {high}: the end of compression is not computed for it."
        )
        .into(),
        source: COMMON_PRACTICE,
    }
}

fn unusual_inputs(build: &Build, cautions: &mut Vec<Caution>) {
    limit::BORE.unusual("block/bore", build.block.bore, cautions);
    limit::DECK_HEIGHT.unusual("block/deck_height", build.block.deck_height, cautions);
    limit::STROKE.unusual("crankshaft/stroke", build.crankshaft.stroke, cautions);
    limit::ROD_LENGTH.unusual("connecting_rod/length", build.connecting_rod.length, cautions);
    limit::COMPRESSION_HEIGHT.unusual("piston/compression_height", build.piston.compression_height, cautions);
    limit::CROWN_VOLUME.unusual("piston/dish_volume", build.piston.dish_volume, cautions);
    limit::CROWN_VOLUME.unusual("piston/dome_volume", build.piston.dome_volume, cautions);
    limit::PIN_OFFSET.unusual("piston/pin_offset", build.piston.pin_offset, cautions);
    limit::CHAMBER_VOLUME.unusual("cylinder_head/chamber_volume", build.cylinder_head.chamber_volume, cautions);
    let gasket = &build.head_gasket;
    limit::GASKET_THICKNESS.unusual("head_gasket/compressed_thickness", gasket.compressed_thickness, cautions);
    if let Some(camshaft) = &build.camshaft {
        limit::INTAKE_CLOSING.unusual("camshaft/intake_closes_abdc", camshaft.intake_closes_abdc, cautions);
        if let Some(difference) = camshaft.seat_difference {
            limit::SEAT_DIFFERENCE.unusual("camshaft/seat_difference", difference, cautions);
        }
    }
    if let Some(running) = &build.running {
        limit::ENGINE_SPEED.unusual("running/engine_speed", running.engine_speed, cautions);
    }
    if let Some(air) = &build.atmosphere {
        limit::ALTITUDE.unusual("atmosphere/altitude", air.altitude, cautions);
        if let Some(temperature) = air.intake_temperature {
            limit::INTAKE_TEMPERATURE.unusual("atmosphere/intake_temperature", temperature, cautions);
        }
    }
}

fn rod_caution(ratio: f64) -> Option<Caution> {
    let [low, high] = ROD_STROKE_RATIOS;
    (ratio < low || ratio > high).then(|| Caution {
        code: "rod_stroke_ratio_unusual",
        severity: Severity::Note,
        about: About::Answer,
        path: "geometry/rod_stroke_ratio".into(),
        detail: format!(
            "A rod of {ratio:.3} strokes is outside {low} to {high}, usual for small and medium engines. A short rod loads the \
             cylinder wall more."
        )
        .into(),
        source: "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2 (rod length 3 to 4 crank radii; range from memory)",
    })
}
