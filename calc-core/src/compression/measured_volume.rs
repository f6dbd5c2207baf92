//! From what a shop measures (poured liquid, a traced outline, diameters and depths) to the volumes of a build.

use validator::{Validate, ValidationError};

use crate::caution::{About, Caution, STANDING, Severity};
use crate::error::{Error, all_faults, broken_rule};
use crate::geometry::displacement::cylinder_volume;
use crate::limit;
use crate::method::Method;
use crate::units::{Angle, Area, Length, Quantity, Volume};

use super::outline::{self, OutlinePoint, check_outline};
use super::recess::{cap, frustum, leaning_relief, overlap};
use super::r#static::{Names, check_top_land, top_land_volume};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "measured-volume",
    title: "Volumes from shop measurements",
    equation: "Poured chamber: poured - hole of the plate, (pi/4) d^2 t. Lowered piston: poured - hole - (pi/4) B^2 x - top land is \
         the dish, or with the sign turned the dome. Outline: half the sum of x1 y2 - x2 y1 over its corners, and for every arc the \
         segment (r^2/2)(phi - sin phi). Cylinder (pi/4) D^2 h; frustum (pi h/3)(R^2 + R r + r^2); spherical cap (pi h/6)(3 R^2 + \
         h^2); pocket off the axis: overlap of its circle with the bore's, times depth; leaning relief: the part of a cylinder \
         between its floor and the crown; top land (pi/4)(B^2 - D^2) h.",
    valid_for: "Liquid without bubbles, level with the top of the plate's hole; rings and valves sealed with grease; sharp edges \
         (corner radii, chamfers and burrs are not in it).",
    sources: &[
        "First principles (volumes of cylinders, cones, spheres and their parts)",
        "Common practice, no source (pouring through a plate; lowering the piston by a known distance)",
    ],
};

/// What was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A chamber poured full through a plate.
    PouredChamber,
    /// A piston lowered a known distance, and the space above it poured full.
    LoweredPiston,
    /// A gasket's opening, traced.
    GasketOpening,
    /// A round dish with an upright wall.
    CylinderDish,
    /// A round dish with a leaning wall.
    FrustumDish,
    /// A dish that is part of a sphere.
    CapDish,
    /// A round pocket off the axis, cut off by the crown's edge.
    OffsetPocket,
    /// A round relief whose axis leans.
    ValveRelief,
    /// The crevice around the land above the top ring.
    TopLand,
}

/// The measurements of one kind; the others stay away.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct MeasuredVolumeInput {
    /// What was measured.
    pub kind: Kind,
    /// Liquid that went in.
    #[validate(custom(function = "limit::poured_volume"))]
    pub poured_volume: Option<Volume>,
    /// Hole of the plate, filled with liquid.
    #[validate(custom(function = "limit::fill_hole"))]
    pub fill_hole_diameter: Option<Length>,
    /// Thickness of the plate.
    #[validate(custom(function = "limit::plate_thickness"))]
    pub plate_thickness: Option<Length>,
    /// Cylinder bore.
    #[validate(custom(function = "limit::bore"))]
    pub bore: Option<Length>,
    /// Flat of the crown below the deck.
    #[validate(custom(function = "limit::recess_depth"))]
    pub lowered_by: Option<Length>,
    /// Height of the land above the top ring.
    #[validate(custom(function = "limit::top_land_height"))]
    pub top_land_height: Option<Length>,
    /// Diameter of that land.
    #[validate(custom(function = "limit::bore"))]
    pub top_land_diameter: Option<Length>,
    /// The opening, corner by corner.
    #[validate(nested)]
    pub outline: Option<Vec<OutlinePoint>>,
    /// Compressed thickness of the gasket.
    #[validate(custom(function = "limit::gasket_thickness"))]
    pub gasket_thickness: Option<Length>,
    /// Diameter at the crown.
    #[validate(custom(function = "limit::recess_diameter"))]
    pub diameter: Option<Length>,
    /// Diameter of the floor.
    #[validate(custom(function = "limit::recess_diameter"))]
    pub floor_diameter: Option<Length>,
    /// Greatest depth square to the crown.
    #[validate(custom(function = "limit::recess_depth"))]
    pub depth: Option<Length>,
    /// From the cylinder axis to the pocket's.
    #[validate(custom(function = "limit::pocket_offset"))]
    pub offset: Option<Length>,
    /// Axis of the relief against the bore axis.
    #[validate(custom(function = "limit::relief_tilt"))]
    pub tilt: Option<Angle>,
    /// How many of them.
    #[validate(custom(function = "limit::recesses"))]
    pub count: Option<u32>,
}

/// What the measurements come to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MeasuredVolume {
    /// The volume measured, all recesses together; not for a lowered piston, nor for an opening without thickness.
    pub volume: Option<Volume>,
    /// The dish of a lowered piston's crown; zero when it has a dome.
    pub dish_volume: Option<Volume>,
    /// Its dome; zero when it has a dish.
    pub dome_volume: Option<Volume>,
    /// The area of the opening, or that the pocket takes from the crown.
    pub area: Option<Area>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// The volume that was measured.
///
/// **Equation** By kind; see [`METHOD`]
///
/// **Shape** Scalars; an outline of 2 to 500 corners for a gasket's opening.
///
/// **Units** Lengths, volumes and angles, any.
///
/// **Valid for** Sharp edges; liquid without bubbles.
///
/// **Errors** [`Error::Invalid`] when a measurement of the kind is missing, one of another kind is given, one is out of range
/// or they contradict each other; [`Error::NoSolution`] when less was poured than the plate's hole holds.
///
/// **Source** First principles; common practice for the ways of measuring.
pub fn evaluate(input: &MeasuredVolumeInput) -> Result<MeasuredVolume, Error> {
    all_faults(input.validate(), rules(input))?;
    let length = |length: Option<Length>| length.unwrap_or_default();
    let (diameter, depth) = (length(input.diameter), length(input.depth));
    let found = match input.kind {
        Kind::PouredChamber => poured_chamber(input)?,
        Kind::LoweredPiston => lowered_piston(input),
        Kind::GasketOpening => gasket_opening(input),
        Kind::CylinderDish => recesses(input, frustum(diameter, diameter, depth)),
        Kind::FrustumDish => recesses(input, frustum(diameter, length(input.floor_diameter), depth)),
        Kind::CapDish => recesses(input, cap(diameter, depth)),
        Kind::OffsetPocket => {
            let area = overlap(length(input.bore), diameter, length(input.offset));
            let volume = Volume::from_cubic_metres(area.square_metres() * depth.metres());
            MeasuredVolume { area: Some(area), ..recesses(input, volume) }
        }
        Kind::ValveRelief => recesses(input, leaning_relief(diameter, depth, input.tilt.unwrap_or_default())),
        Kind::TopLand => {
            let volume = top_land_volume(length(input.bore), input.top_land_height, input.top_land_diameter);
            MeasuredVolume { volume: Some(volume), ..MeasuredVolume::default() }
        }
    };
    let cautions = found.cautions.into_iter().chain([STANDING]).collect();
    Ok(MeasuredVolume { cautions, ..found })
}

/// What a kind needs, and what it may have besides.
fn fields(kind: Kind) -> (&'static [&'static str], &'static [&'static str]) {
    match kind {
        Kind::PouredChamber => (&["poured_volume"], &["fill_hole_diameter", "plate_thickness"]),
        Kind::LoweredPiston => (
            &["poured_volume", "bore", "lowered_by"],
            &["fill_hole_diameter", "plate_thickness", "top_land_height", "top_land_diameter"],
        ),
        Kind::GasketOpening => (&["outline"], &["gasket_thickness"]),
        Kind::CylinderDish | Kind::CapDish => (&["diameter", "depth"], &["count"]),
        Kind::FrustumDish => (&["diameter", "floor_diameter", "depth"], &["count"]),
        Kind::OffsetPocket => (&["bore", "diameter", "depth", "offset"], &["count"]),
        Kind::ValveRelief => (&["diameter", "depth", "tilt"], &["count"]),
        Kind::TopLand => (&["bore", "top_land_height", "top_land_diameter"], &[]),
    }
}

/// Every broken rule at once.
fn rules(input: &MeasuredVolumeInput) -> Vec<ValidationError> {
    let (needed, allowed) = fields(input.kind);
    let mut broken = Vec::new();
    for (name, given) in [
        ("poured_volume", input.poured_volume.is_some()),
        ("fill_hole_diameter", input.fill_hole_diameter.is_some()),
        ("plate_thickness", input.plate_thickness.is_some()),
        ("bore", input.bore.is_some()),
        ("lowered_by", input.lowered_by.is_some()),
        ("top_land_height", input.top_land_height.is_some()),
        ("top_land_diameter", input.top_land_diameter.is_some()),
        ("outline", input.outline.is_some()),
        ("gasket_thickness", input.gasket_thickness.is_some()),
        ("diameter", input.diameter.is_some()),
        ("floor_diameter", input.floor_diameter.is_some()),
        ("depth", input.depth.is_some()),
        ("offset", input.offset.is_some()),
        ("tilt", input.tilt.is_some()),
        ("count", input.count.is_some()),
    ] {
        if !given && needed.contains(&name) {
            broken.push(broken_rule(name, "missing", format!("is missing: this kind needs {}.", needed.join(", "))));
        }
        if given && !needed.contains(&name) && !allowed.contains(&name) {
            let takes = [needed, allowed].concat().join(", ");
            broken.push(broken_rule(
                name,
                "not_for_this_kind",
                format!("does not belong to this kind, which takes {takes}."),
            ));
        }
    }
    broken.extend(contradictions(input));
    broken
}

const NAMES: Names = Names {
    gasket_bore: "outline",
    gasket_area: "outline",
    top_land_height: "top_land_height",
    top_land_diameter: "top_land_diameter",
    dome: "poured_volume",
};

fn contradictions(input: &MeasuredVolumeInput) -> Vec<ValidationError> {
    let mut broken = Vec::new();
    match (input.fill_hole_diameter, input.plate_thickness) {
        (Some(_), None) => broken.push(broken_rule("plate_thickness", "missing", WHOLE_HOLE.to_owned())),
        (None, Some(_)) => broken.push(broken_rule("fill_hole_diameter", "missing", WHOLE_HOLE.to_owned())),
        _ => {}
    }
    if let (Kind::LoweredPiston | Kind::TopLand, Some(bore)) = (input.kind, input.bore) {
        let land = check_top_land(&NAMES, bore, input.top_land_height, input.top_land_diameter);
        // What is wholly missing was said already.
        broken.extend(land.err().filter(|error| input.kind == Kind::LoweredPiston || error.code != "missing"));
    }
    broken.extend(input.outline.as_ref().and_then(|outline| check_outline("outline", outline).err()));
    if let (Kind::CapDish, Some(diameter), Some(depth)) = (input.kind, input.diameter, input.depth)
        && 2.0 * depth.metres() > diameter.metres()
    {
        let half = Length::from_metres(diameter.metres() / 2.0).shown();
        broken.push(broken_rule("depth", "contradiction", format!("must be at most half the diameter, {half}.")));
    }
    if let (Kind::OffsetPocket, Some(bore), Some(diameter), Some(offset)) =
        (input.kind, input.bore, input.diameter, input.offset)
        && 2.0 * offset.metres() >= bore.metres() + diameter.metres()
    {
        let detail = "is so large that the pocket misses the piston; it is measured from the cylinder axis.";
        broken.push(broken_rule("offset", "contradiction", detail.to_owned()));
    }
    broken
}

const WHOLE_HOLE: &str = "is missing: the hole of the plate needs its diameter and the plate's thickness.";

fn hole(input: &MeasuredVolumeInput) -> f64 {
    let [diameter, thickness] = [input.fill_hole_diameter, input.plate_thickness].map(Option::unwrap_or_default);
    cylinder_volume(diameter, thickness).cubic_metres()
}

fn poured_chamber(input: &MeasuredVolumeInput) -> Result<MeasuredVolume, Error> {
    let poured = input.poured_volume.unwrap_or_default();
    let chamber = poured.cubic_metres() - hole(input);
    if chamber < 0.0 {
        let hole = Volume::from_cubic_metres(hole(input)).shown();
        let detail = format!("of {} is less than the plate's hole holds, {hole}.", poured.shown());
        return Err(Error::NoSolution { field: "poured_volume", detail });
    }
    Ok(MeasuredVolume { volume: Some(Volume::from_cubic_metres(chamber)), ..MeasuredVolume::default() })
}

fn lowered_piston(input: &MeasuredVolumeInput) -> MeasuredVolume {
    let (bore, lowered) = (input.bore.unwrap_or_default(), input.lowered_by.unwrap_or_default());
    let land = top_land_volume(bore, input.top_land_height, input.top_land_diameter).cubic_metres();
    let above = cylinder_volume(bore, lowered).cubic_metres() + land + hole(input);
    let dish = input.poured_volume.unwrap_or_default().cubic_metres() - above;
    MeasuredVolume {
        dish_volume: Some(Volume::from_cubic_metres(dish.max(0.0))),
        dome_volume: Some(Volume::from_cubic_metres((-dish).max(0.0))),
        cautions: vec![lowering_note(bore)],
        ..MeasuredVolume::default()
    }
}

fn lowering_note(bore: Length) -> Caution {
    let thousandth = cylinder_volume(bore, Length::from_thousandths(1.0)).shown();
    Caution {
        code: "lowering_decides",
        severity: Severity::Note,
        about: About::Request,
        path: "lowered_by".into(),
        detail: format!("Every 0.001 in (0.0254 mm) of error in it is {thousandth} of error in dish or dome; measure over the pin axis.")
            .into(),
        source: "First principles",
    }
}

fn gasket_opening(input: &MeasuredVolumeInput) -> MeasuredVolume {
    let area = outline::area(input.outline.as_deref().unwrap_or_default());
    let volume = |thickness: Length| Volume::from_cubic_metres(area * thickness.metres());
    MeasuredVolume {
        volume: input.gasket_thickness.map(volume),
        area: Some(Area::from_square_metres(area)),
        ..MeasuredVolume::default()
    }
}

fn recesses(input: &MeasuredVolumeInput, one: Volume) -> MeasuredVolume {
    let all = f64::from(input.count.unwrap_or(1)) * one.cubic_metres();
    MeasuredVolume { volume: Some(Volume::from_cubic_metres(all)), ..MeasuredVolume::default() }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn lowered(bore: f64, by: f64, poured: f64) -> MeasuredVolumeInput {
        MeasuredVolumeInput {
            kind: Kind::LoweredPiston,
            poured_volume: Some(Volume::from_cubic_centimetres(poured)),
            fill_hole_diameter: None,
            plate_thickness: None,
            bore: Some(Length::from_inches(bore)),
            lowered_by: Some(Length::from_inches(by)),
            top_land_height: None,
            top_land_diameter: None,
            outline: None,
            gasket_thickness: None,
            diameter: None,
            floor_diameter: None,
            depth: None,
            offset: None,
            tilt: None,
            count: None,
        }
    }

    proptest! {
        #[test]
        fn dish_less_dome_is_what_was_poured_beyond_the_cylinder(bore in 2.0..6.0, by in 0.1..1.0, extra in -20.0..40.0) {
            let cylinder = cylinder_volume(Length::from_inches(bore), Length::from_inches(by)).cubic_centimetres();
            prop_assume!(cylinder + extra > 0.0);
            let found = evaluate(&lowered(bore, by, cylinder + extra))?;
            let [dish, dome] = [found.dish_volume, found.dome_volume].map(|volume| volume.unwrap_or_default().cubic_centimetres());
            prop_assert!(f64::abs(dish - dome - extra) < 1e-9);
            prop_assert!(dish == 0.0 || dome == 0.0);
        }
    }
}
