//! Limits on results, sorted by what they depend on: that decides when they are checked, and in which order what they reject is
//! counted.

use crate::build::evaluate::numbers;
use crate::build::place::Output;
use crate::build::sheet::{Block, Build, Camshaft, ConnectingRod, Crankshaft, CylinderHead, HeadGasket, Piston};
use crate::compression::valve_event::seated;
use crate::error::Error;
use crate::geometry::deck_stack::pin_height_at_top_centre;
use crate::geometry::slider_crank::SliderCrank;
use crate::limit;
use crate::units::{Length, Volume};

use super::catalogue::FitBase;
use super::question::ResultLimit;
use super::rank::{SAME_LENGTH, SAME_SHARE};
use super::settle::Bounds;

/// Results that crankshaft, rod, pin offset and what is fixed decide alone.
const OF_THE_TRAIN: [&str; 11] = [
    "geometry/displacement",
    "geometry/displacement_litres",
    "geometry/label_difference_percent",
    "geometry/swept_volume",
    "geometry/actual_stroke",
    "geometry/bore_stroke_ratio",
    "geometry/rod_stroke_ratio",
    "geometry/mean_piston_speed",
    "geometry/peak_piston_speed",
    "geometry/peak_piston_speed_angle",
    "geometry/peak_piston_acceleration",
];

/// Results that the clearance volume decides once crankshaft, rod and pin offset are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum OfVolume {
    StaticRatio,
    ClearanceVolume,
    TrappedRatio,
}

/// The limits in the order in which they are checked.
#[derive(Debug, Clone)]
pub(super) struct Limits {
    /// On results of the train alone.
    pub(super) train: Vec<ResultLimit>,
    pub(super) clearance: Option<ResultLimit>,
    pub(super) squish: Option<ResultLimit>,
    volume: Vec<(OfVolume, ResultLimit)>,
    /// On all other results: each combination is evaluated.
    pub(super) evaluated: Vec<ResultLimit>,
    camshaft: Option<Camshaft>,
}

impl Limits {
    pub(super) fn sort(limits: &[ResultLimit], camshaft: Option<&Camshaft>) -> Self {
        let mut sorted = Self {
            train: Vec::new(),
            clearance: None,
            squish: None,
            volume: Vec::new(),
            evaluated: Vec::new(),
            camshaft: camshaft.cloned(),
        };
        for limit in limits {
            match limit.result.path {
                "geometry/deck_clearance" => sorted.clearance = Some(*limit),
                "geometry/squish_clearance" => sorted.squish = Some(*limit),
                "compression/static_ratio" => sorted.volume.push((OfVolume::StaticRatio, *limit)),
                "compression/clearance_volume" => sorted.volume.push((OfVolume::ClearanceVolume, *limit)),
                "compression/trapped_ratio" => sorted.volume.push((OfVolume::TrappedRatio, *limit)),
                path if OF_THE_TRAIN.contains(&path) => sorted.train.push(*limit),
                _ => sorted.evaluated.push(*limit),
            }
        }
        sorted
    }

    /// The names of all limits in the order in which they are checked.
    pub(super) fn names(&self) -> (Vec<&'static str>, Vec<&'static str>, Vec<&'static str>) {
        let paths = |limits: &[ResultLimit]| limits.iter().map(|limit| limit.result.path).collect::<Vec<_>>();
        let mut train = paths(&self.train);
        train.extend(self.clearance.iter().chain(&self.squish).map(|limit| limit.result.path));
        let volume = self.volume.iter().map(|(_, limit)| limit.result.path).collect();
        (train, volume, paths(&self.evaluated))
    }

    pub(super) fn clearance_bounds(&self) -> Bounds {
        length_bounds(self.clearance.as_ref())
    }

    pub(super) fn squish_bounds(&self) -> Bounds {
        length_bounds(self.squish.as_ref())
    }

    pub(super) fn volume_limits(&self) -> usize {
        self.volume.len()
    }

    /// Where the highest ratio that is accepted, and then each limit in turn, wants the clearance volume, each together with
    /// those before it.
    pub(super) fn volume_bounds(&self, train: &SliderCrank, area: f64, swept: f64, found: &mut Vec<Bounds>) {
        let mut all = Bounds::of_ratio(swept, None, Some(limit::COMPRESSION_RATIO.max.plain()));
        found.clear();
        found.push(all);
        for (kind, limit) in &self.volume {
            let (low, high) = (limit.at_least, limit.at_most);
            all = all.and(match kind {
                OfVolume::StaticRatio => Bounds::of_ratio(swept, low, high),
                OfVolume::ClearanceVolume => Bounds::of_volume(low, high),
                OfVolume::TrappedRatio => Bounds::of_ratio(area * self.closing_travel(train), low, high),
            });
            found.push(all);
        }
    }

    fn closing_travel(&self, train: &SliderCrank) -> f64 {
        let closing = self.camshaft.as_ref().map(|cam| seated(cam.intake_closes_abdc, cam.seat_difference));
        closing.map_or(0.0, |closing| train.travel(std::f64::consts::PI + closing.radians()))
    }
}

fn length_bounds(limit: Option<&ResultLimit>) -> Bounds {
    limit.map_or(Bounds::NONE, |limit| Bounds::of_length(limit.at_least, limit.at_most))
}

/// Whether a value keeps to a limit, to within what counts as the same.
pub(super) fn keeps(limit: &ResultLimit, value: f64) -> bool {
    let slack = |end: f64| if limit.result.dimension.name == "length" { SAME_LENGTH } else { SAME_SHARE * end.abs() };
    limit.at_least.is_none_or(|low| value >= low - slack(low))
        && limit.at_most.is_none_or(|high| value <= high + slack(high))
}

/// The first limit that the results do not keep to.
pub(super) fn first_broken(limits: &[ResultLimit], build: &Build) -> Result<Option<usize>, Error> {
    let found = match numbers(build) {
        Ok(found) => found,
        // What cannot be evaluated keeps no limit.
        Err(Error::Invalid(_) | Error::NoSolution { .. }) => return Ok(Some(0)),
        Err(other) => return Err(other),
    };
    Ok(limits.iter().position(|limit| limit.result.get(&found).is_none_or(|value| !keeps(limit, value))))
}

/// A sound build with these moving parts: for results that depend on nothing else.
pub(super) fn specimen(base: &FitBase, stroke: Length, rod: Length, offset: Length) -> Build {
    let crown = Length::from_metres(base.block.bore.metres() / 3.0);
    let pin = pin_height_at_top_centre(stroke, rod, offset);
    Build {
        engine: base.engine.clone(),
        block: Block { deck_height: Length::from_metres(pin.metres() + crown.metres()), ..base.block.clone() },
        crankshaft: Crankshaft { stroke },
        connecting_rod: ConnectingRod { length: rod },
        piston: Piston {
            compression_height: crown,
            dish_volume: Volume::default(),
            dome_volume: Volume::default(),
            pin_offset: offset,
            top_land_height: None,
            top_land_diameter: None,
        },
        cylinder_head: CylinderHead {
            chamber_volume: Volume::from_cubic_metres(0.04 * base.block.bore.metres().powi(3)),
        },
        oil: None,
        head_gasket: HeadGasket {
            bore: Some(base.block.bore),
            opening_area: None,
            compressed_thickness: Length::from_millimetres(1.0),
        },
        camshaft: base.camshaft.clone(),
        running: base.running.clone(),
        atmosphere: base.atmosphere.clone(),
        measured: None,
    }
}

/// Whether the base says all that a result needs.
pub(super) fn is_there(base: &FitBase, result: &Output) -> bool {
    let bore = base.block.bore.metres();
    let [stroke, rod] = [bore, 2.0 * bore].map(Length::from_metres);
    numbers(&specimen(base, stroke, rod, Length::default())).map_or(true, |found| result.get(&found).is_some())
}
