//! The oil budget of a build: what restrictors in the feed of the top end leave for the bottom end.

use crate::caution::{About, COMMON_PRACTICE, Caution, STANDING, Severity};
use crate::error::Error;
use crate::method::Method;
use crate::units::{Flow, Length, Pressure, Quantity, RotationalSpeed, Temperature};

use super::OilInput;
use super::circuit::{CircuitInput, Element, Opening, Point, Study};

mod generate;
mod places;
#[cfg(test)]
mod tests;

pub(crate) use places::check_counts;
pub use places::{MOST_LIFTERS, MOST_MAINS};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "oil-budget",
    title: "What restrictors in the top end's feed leave for the bottom end",
    equation: "A circuit is made from the build: pump, relief valve, filter, a gallery with a station at each main bearing; from \
         each station a feed, the main bearing, crank drillings and rod bearings, and camshaft bearings. Main gallery first: the \
         lifters hang on the gallery's far end, behind the top end's feed. Top end first: the lifters of each station hang on the \
         gallery itself, each behind its own feed. The circuit is balanced with open feeds and with a restrictor in place of each; \
         the gain is the second less the first.",
    valid_for: "What the oil circuit is valid for. Rods, camshaft bearings and lifters are spread evenly over the stations. Eccentricity \
         0.6 and no warming are assumed of bearings for which nothing is given, and 0.5 of lifters. A gain is seen only while the \
         relief valve is shut, or nearly: an open one keeps the pressure whatever the top end takes.",
    sources: &[
        "First principles (one balance less another)",
        "common practice, no source: decide what the top end needs, restrict its feed to that, and keep the rest for the bottom end",
    ],
};

/// The way of the oil.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FeedingOrder {
    /// The main gallery is fed first; the top end hangs on its far end.
    MainGalleryFirst,
    /// The lifters' gallery is fed first; the main bearings hang on it.
    TopEndFirst,
}

/// The oil system of a build. Each part is an element without name and nodes, which are found from the feeding order.
#[derive(Debug, Clone, PartialEq)]
pub struct OilSystem {
    /// Which oil.
    pub lubricant: OilInput,
    /// Of the oil in the whole circuit.
    pub oil_temperature: Temperature,
    /// The way of the oil.
    pub feeding_order: FeedingOrder,
    /// The pump.
    pub pump: Element,
    /// The relief valve behind the pump.
    pub relief_valve: Element,
    /// The filter, if there is one.
    pub filter: Option<Element>,
    /// The gallery, its whole length.
    pub gallery: Element,
    /// From the gallery to one main bearing.
    pub main_feed: Element,
    /// All main bearings.
    pub main_bearings: Element,
    /// From a main bearing to one rod bearing; entry and exit follow from journals and stroke.
    pub crank_drilling: Element,
    /// One rod bearing for each cylinder.
    pub rod_bearings: Element,
    /// All camshaft bearings that are fed from the mains.
    pub cam_bearings: Option<Element>,
    /// All lifters in their bores.
    pub lifters: Element,
    /// The hole that meters oil from a lifter to its pushrod and rocker.
    pub metering: Element,
    /// The open feed of the top end.
    pub top_feed: Element,
    /// What takes its place.
    pub restrictor: Option<Element>,
    /// Pressure wanted at the farthest main bearing for every 1,000 rev/min.
    pub per_thousand_revolutions: Option<Pressure>,
    /// Pressure wanted there at any speed.
    pub least_pressure: Option<Pressure>,
    /// What the top end needs, as the builder decided.
    pub top_end_needs: Option<Flow>,
}

/// A build as far as its oil goes.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetInput<'a> {
    /// How many cylinders.
    pub cylinders: u32,
    /// Twice the crank radius.
    pub stroke: Length,
    /// Of the crankshaft.
    pub engine_speed: RotationalSpeed,
    /// The oil system.
    pub system: &'a OilSystem,
    /// Where the system stands in the request, for messages.
    pub path: &'static str,
    /// Where the engine speed stands.
    pub speed_path: &'static str,
}

/// The circuit without and with restrictors.
#[derive(Debug, Clone, PartialEq)]
pub struct Budget {
    /// With open feeds.
    pub as_it_is: Balance,
    /// With restrictors, when there are any.
    pub restricted: Option<Balance>,
    /// What the restrictors change.
    pub gain: Option<Gain>,
    /// The circuit with restrictors, or without when there are none.
    pub circuit: CircuitInput,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// One balance.
#[derive(Debug, Clone, PartialEq)]
pub struct Balance {
    /// The operating point; its rule's pressures are those of the farthest main bearing.
    pub point: Point,
    /// Pressure at the farthest main bearing.
    pub farthest_main: Pressure,
    /// Lowest pressure that feeds lifters.
    pub at_lifters: Pressure,
    /// What each lifter with its pushrod and rocker gets.
    pub each_lifter: Flow,
    /// What the worst node gains or loses, as a share of the supply.
    pub residual_share: f64,
}

/// Restricted less as it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// Flow of the bottom end.
    pub bottom_end: Flow,
    /// The same as a share of what it had.
    pub bottom_end_share: f64,
    /// Pressure at the farthest main bearing.
    pub farthest_main: Pressure,
    /// Flow of the top end; negative.
    pub top_end: Flow,
    /// What the top end keeps, as a share of what it had.
    pub top_end_kept: f64,
}

/// The oil budget as it is and with restrictors.
///
/// **Equation** gain = balance with restrictors less balance with open feeds
///
/// **Shape** 1 to 48 cylinders, 1 to 50 main bearings, 1 to 200 lifters.
///
/// **Units** Any; pressures are gauge pressures.
///
/// **Valid for** What the oil circuit is valid for, in the two feeding orders.
///
/// **Errors** [`Error::Invalid`] with every field that is out of range or contradicts another; [`Error::NoSolution`] as
/// [`super::circuit::evaluate`].
///
/// **Source** First principles; those of the circuit's laws.
pub fn evaluate(input: &BudgetInput<'_>) -> Result<Budget, Error> {
    check_counts(input)?;
    let open = generate::circuit(input, &input.system.top_feed);
    let closed = input.system.restrictor.as_ref().map(|restrictor| generate::circuit(input, restrictor));
    // Faults of both circuits at once would name each of them twice: that with the restrictor has them all but one.
    let as_it_is = balance(input, &open)?;
    let restricted = closed.as_ref().map(|made| balance(input, made)).transpose()?;
    let gain = restricted.as_ref().map(|restricted| gain(&as_it_is, restricted));
    let cautions = cautions(input, &as_it_is, restricted.as_ref());
    Ok(Budget { as_it_is, restricted, gain, circuit: closed.unwrap_or(open).circuit, cautions })
}

fn balance(input: &BudgetInput<'_>, made: &generate::Made) -> Result<Balance, Error> {
    let renamed = |error| places::renamed(error, &made.sections, input);
    let mut study = Study::new(&made.circuit).map_err(renamed)?;
    let (residual, _) = study.balance(input.engine_speed, input.system.oil_temperature).map_err(renamed)?;
    let point = study.point();
    let lifters = f64::from(input.system.lifters.count);
    let taken: f64 = made.lifter_elements.iter().map(|&element| study.flow(element).si()).sum();
    let at_lifters = made.lifter_nodes.iter().map(|name| study.pressure_at(name).si()).fold(f64::INFINITY, f64::min);
    Ok(Balance {
        farthest_main: study.pressure_at(&made.farthest),
        at_lifters: Pressure::from_si(at_lifters),
        each_lifter: Flow::from_si(taken / lifters),
        residual_share: residual.si() / point.supply.si().abs().max(f64::MIN_POSITIVE),
        point,
    })
}

fn gain(before: &Balance, after: &Balance) -> Gain {
    let [bottom, top] = [0, 1].map(|group| [before, after].map(|balance| balance.point.groups[group].si()));
    let share = |part: f64, whole: f64| if whole == 0.0 { 0.0 } else { part / whole };
    Gain {
        bottom_end: Flow::from_si(bottom[1] - bottom[0]),
        bottom_end_share: share(bottom[1] - bottom[0], bottom[0]),
        farthest_main: Pressure::from_si(after.farthest_main.si() - before.farthest_main.si()),
        top_end: Flow::from_si(top[1] - top[0]),
        top_end_kept: share(top[1], top[0]),
    }
}

fn cautions(input: &BudgetInput<'_>, as_it_is: &Balance, restricted: Option<&Balance>) -> Vec<Caution> {
    let mut cautions = Vec::new();
    let at = |field: &str| format!("{}/{field}", input.path);
    input.system.lubricant.cautions(&at("lubricant"), &mut cautions);
    let caution = |code, severity, path: &str, detail: String, source| Caution {
        code,
        severity,
        about: About::Answer,
        path: path.to_owned().into(),
        detail: detail.into(),
        source,
    };
    let (name, last) = restricted.map_or(("as_it_is", as_it_is), |restricted| ("restricted", restricted));
    if let Some([found, wanted]) = last.point.rule.filter(|[found, wanted]| found < wanted) {
        let detail = format!("The farthest main bearing has {}; the rule wants {}.", found.shown(), wanted.shown());
        let path = format!("{name}/farthest_main_pressure");
        cautions.push(caution("pressure_below_rule", Severity::Danger, &path, detail, "the rule given in the request"));
    }
    let top = last.point.groups[1];
    if let Some(needed) = input.system.top_end_needs.filter(|needed| top < *needed) {
        let detail = format!("The top end gets {}; it is said to need {}.", top.shown(), needed.shown());
        let path = format!("{name}/top_end");
        cautions.push(caution("top_end_below_need", Severity::Danger, &path, detail, "the need given in the request"));
    }
    if last.at_lifters.si() <= 0.0 {
        let detail = "No pressure is left at the lifters: valve train and camshaft run dry.".to_owned();
        cautions.push(caution("lifters_dry", Severity::Danger, name, detail, COMMON_PRACTICE));
    }
    if as_it_is.point.opening.is_some_and(|opening| opening != Opening::Shut) {
        let detail = "The relief valve is open as it is: the pump gives more than the circuit takes, and restrictors gain little here. Look at \
                      hot idle as well.";
        cautions.push(caution("relief_open", Severity::Note, "as_it_is/relief", detail.to_owned(), COMMON_PRACTICE));
    }
    cautions.push(STANDING);
    cautions
}
