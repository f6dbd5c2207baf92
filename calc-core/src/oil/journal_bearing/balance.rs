//! The film at a temperature, and the temperature at which friction and side flow balance.

use crate::error::Error;
use crate::limit;
use crate::oil::bearing_film::{Film, Films, MOST_ECCENTRIC};
use crate::oil::bearing_law::{Bearing, Feed};
use crate::oil::law::{OilLaw, VISCOSITY_RANGE};
use crate::solve::bracketed_newton;
use crate::units::{Force, KinematicViscosity, Length, Pressure, Quantity, Ratio, SpecificHeat, Temperature};

use super::rules::Geometry;
use super::{Groove, JournalBearingInput};

/// The film is at the mean of what comes and what leaves.
const FILM_SHARE: f64 = 0.5;
/// How much the film's own flow and the supply's hinder each other.
const HINDRANCE: f64 = 0.3;
/// Density of water at 15.6 degrees C, to which Cragoe's equation refers an oil's (kg/m3).
const WATER: f64 = 999.0;

/// What does not change with temperature, in SI units.
#[derive(Debug, Clone)]
pub(super) struct Shape {
    pub(super) radius: f64,
    pub(super) radial_clearance: f64,
    /// How many bearings side by side: two beside a full groove.
    parts: f64,
    /// Width of one of them.
    part_width: f64,
    pub(super) land: Option<f64>,
    pub(super) load: f64,
    /// Radians per second.
    pub(super) speed: f64,
    groove: Groove,
    geometry: Geometry,
    supply_pressure: f64,
    supply_kelvins: f64,
    specific_heat: Option<SpecificHeat>,
    law: OilLaw,
    films: Films,
}

/// The bearing with its film at one temperature, in SI units.
#[derive(Debug, Clone, Copy)]
pub(super) struct State {
    pub(super) kelvins: f64,
    pub(super) viscosity: f64,
    pub(super) density: f64,
    pub(super) film: Film,
    /// Whether the load is more than the table's thinnest film carries.
    too_heavy: bool,
    pub(super) peak_pressure: f64,
    pub(super) film_flow: f64,
    pub(super) pressure_flow: f64,
    pub(super) power: f64,
    /// J/(m3 K).
    heat_capacity: f64,
}

impl State {
    /// Martin's sum of the two flows, which hinder each other; where one is all but nothing, the other alone.
    pub(super) fn side_flow(&self) -> f64 {
        let (film, pressed) = (self.film_flow, self.pressure_flow);
        (film + pressed - HINDRANCE * (film * pressed).sqrt()).max(film).max(pressed)
    }

    /// How much warmer the oil leaves than it comes.
    pub(super) fn rise(&self) -> f64 {
        self.power / (self.heat_capacity * self.side_flow())
    }
}

impl Shape {
    pub(super) fn new(input: &JournalBearingInput, geometry: &Geometry, load: Force, law: OilLaw) -> Self {
        let full = input.groove == Groove::Full;
        let part_width = if full { geometry.land } else { geometry.width };
        Self {
            radius: input.diameter.metres() / 2.0,
            radial_clearance: input.clearance.metres() / 2.0,
            parts: if full { 2.0 } else { 1.0 },
            part_width,
            land: matches!(input.groove, Groove::Full | Groove::PartialArc).then_some(geometry.land),
            load: load.newtons(),
            speed: input.journal_speed.radians_per_second(),
            groove: input.groove,
            geometry: *geometry,
            supply_pressure: input.supply_pressure.unwrap_or_default().pascals(),
            supply_kelvins: input.supply_temperature.kelvins(),
            specific_heat: input.specific_heat,
            law,
            films: Films::of(part_width / input.diameter.metres()),
        }
    }

    pub(super) fn width_ratio(&self) -> f64 {
        self.part_width / (2.0 * self.radius)
    }

    pub(super) fn projected_area(&self) -> f64 {
        2.0 * self.radius * self.parts * self.part_width
    }

    /// The bearing with its film at a temperature. A load that is too heavy there is held by the table's thinnest film, so that
    /// the search can go on; what it ends with is checked.
    fn at(&self, kelvins: f64) -> Result<State, Error> {
        let oil = self.law.state(Temperature::from_kelvins(kelvins));
        let viscosity = oil.high_shear_viscosity.unwrap_or(oil.dynamic_viscosity).pascal_seconds();
        let density = oil.density.kilograms_per_cubic_metre();
        let slender = self.radius / self.radial_clearance;
        let pressure_unit = viscosity * self.speed * slender * slender;
        let load = self.load / (self.parts * pressure_unit * self.radius * self.part_width);
        let too_heavy = load > self.films.most_load();
        let film = if too_heavy { self.films.at(MOST_ECCENTRIC) } else { self.films.carrying(load)? };
        let turns = self.speed / std::f64::consts::TAU;
        let bearing = Bearing {
            radius: self.radius,
            radial_clearance: self.radial_clearance,
            eccentricity: film.eccentricity,
            feed: self.feed(&film),
        };
        let torque = self.parts * film.drag * viscosity * self.speed * self.radius.powi(2) * slender * self.part_width;
        Ok(State {
            kelvins,
            viscosity,
            density,
            film,
            too_heavy,
            peak_pressure: film.peak * pressure_unit,
            film_flow: self.outer_edges()
                * film.side_flow
                * self.radius
                * self.radial_clearance
                * turns
                * self.part_width,
            pressure_flow: bearing.conductance(viscosity) * self.supply_pressure,
            power: torque * self.speed,
            heat_capacity: density * self.specific_heat(kelvins),
        })
    }

    /// How many bearings' side flow leaves: beside a full groove, each land's inner edge gives back to the groove.
    fn outer_edges(&self) -> f64 {
        if self.groove == Groove::Full { self.parts / 2.0 } else { self.parts }
    }

    /// Groove or hole, its angle counted from the thickest film: the load presses the bearing an attitude angle before the
    /// thinnest film.
    fn feed(&self, film: &Film) -> Feed {
        let centre = std::f64::consts::PI - film.attitude + self.geometry.feed_position;
        match self.groove {
            Groove::None => Feed::None,
            Groove::Full => Feed::Full { land: self.geometry.land },
            Groove::PartialArc => Feed::PartialArc { land: self.geometry.land, arc: self.geometry.groove_arc, centre },
            Groove::SingleHole => {
                Feed::SingleHole { width: self.geometry.width, diameter: self.geometry.hole_diameter, centre }
            }
        }
    }

    /// Cragoe's specific heat of petroleum oils, where none is given.
    fn specific_heat(&self, kelvins: f64) -> f64 {
        let usual = (1684.8 + 3.39 * (kelvins - 273.15)) / (self.law.density_15().si() / WATER).sqrt();
        self.specific_heat.map_or(usual, Quantity::si)
    }

    /// Heat that the side flow carries off less friction, as a share of friction, when the film is at its share of the rise.
    pub(super) fn heat_residual(&self, state: &State) -> f64 {
        let rise = (state.kelvins - self.supply_kelvins) / FILM_SHARE;
        rise * state.heat_capacity * state.side_flow() / state.power - 1.0
    }
}

/// The state at the film temperature given, or at the one where heat balances.
pub(super) fn balanced(input: &JournalBearingInput, shape: &Shape) -> Result<State, Error> {
    let kelvins = match input.film_temperature {
        Some(given) => given.kelvins(),
        None => film_kelvins(shape)?,
    };
    let state = shape.at(kelvins)?;
    if state.too_heavy {
        return Err(too_heavy(input, shape, &state));
    }
    if state.rise().is_finite() { Ok(state) } else { Err(nothing_flows()) }
}

/// Where supply temperature plus half the rise is the film's own: with heat, friction falls and flow grows, so there is one.
fn film_kelvins(shape: &Shape) -> Result<f64, Error> {
    let thinnest = KinematicViscosity::from_square_metres_per_second(VISCOSITY_RANGE[0]);
    let hottest = shape.law.temperature_of(thinnest).kelvins().min(limit::OIL_TEMPERATURE.max.kelvins());
    let coldest = shape.supply_kelvins;
    let excess =
        |kelvins: f64| -> Result<f64, Error> { Ok(coldest + FILM_SHARE * shape.at(kelvins)?.rise() - kelvins) };
    if !excess(coldest)?.is_finite() {
        return Err(nothing_flows());
    }
    if excess(hottest)? > 0.0 {
        let detail = format!(
            "and feed let too little oil through: friction would heat the film beyond {}, where the oil's equations end. More \
             clearance, more supply pressure or a thinner oil carries the heat off.",
            Temperature::from_kelvins(hottest).shown()
        );
        return Err(Error::NoSolution { field: "clearance", detail });
    }
    // A failure inside shows as a residual that is not a number, which the solver reports.
    let balance = |kelvins: f64| {
        const STEP: f64 = 1e-3;
        let at = |kelvins: f64| excess(kelvins).unwrap_or(f64::NAN);
        (at(kelvins), (at(kelvins + STEP) - at(kelvins - STEP)) / (2.0 * STEP))
    };
    bracketed_newton("film temperature of a bearing", balance, coldest, hottest, coldest + 10.0)
}

fn nothing_flows() -> Error {
    let detail = "is nothing, and no pressure feeds the bearing: no oil flows that could carry the heat off. Give a load, a feed or \
                  film_temperature.";
    Error::NoSolution { field: "load", detail: detail.to_owned() }
}

fn too_heavy(input: &JournalBearingInput, shape: &Shape, state: &State) -> Error {
    let slender = shape.radius / shape.radial_clearance;
    let most = shape.films.most_load() * state.viscosity * shape.speed * slender * slender * shape.radius;
    let carried = Force::from_newtons(most * shape.parts * shape.part_width);
    let detail = format!(
        "of {} is too heavy: at a film temperature of {} the film carries {} at an eccentricity of {}, where it is {} thin; thinner \
         films are not tabulated, and faces would touch. Mean pressure is {}.",
        Force::from_newtons(shape.load).shown(),
        Temperature::from_kelvins(state.kelvins).shown(),
        carried.shown(),
        Ratio::from_plain(MOST_ECCENTRIC).shown(),
        Length::from_metres(shape.radial_clearance * (1.0 - MOST_ECCENTRIC)).shown(),
        Pressure::from_pascals(shape.load / shape.projected_area()).shown()
    );
    Error::NoSolution { field: if input.load.is_some() { "load" } else { "engine_load" }, detail }
}
