//! The circuit of a build.

use crate::oil::circuit::{BearingFeed, CircuitInput, Element, Group, Kind, Node, PressureRule};
use crate::units::{Length, Pressure, Ratio};

use super::{BudgetInput, FeedingOrder};

/// A circuit and where its parts came from.
pub(super) struct Made {
    pub(super) circuit: CircuitInput,
    /// The section of the build that each element was made from.
    pub(super) sections: Vec<&'static str>,
    /// Places of the elements that drain the lifters.
    pub(super) lifter_elements: Vec<usize>,
    /// Names of the nodes that feed lifters.
    pub(super) lifter_nodes: Vec<String>,
    /// Name of the farthest main bearing's node.
    pub(super) farthest: String,
}

/// What is assumed of a bearing, and of a lifter, that nothing is said about.
const USUAL_ECCENTRICITY: [f64; 2] = [0.6, 0.5];

/// The circuit with this part in the top end's feed.
pub(super) fn circuit(input: &BudgetInput<'_>, feed: &Element) -> Made {
    let mut builder = Builder {
        input,
        feed,
        nodes: vec!["sump".to_owned()],
        elements: Vec::new(),
        lifters: Vec::new(),
        at: Vec::new(),
    };
    let start = builder.supply();
    let stations = input.system.main_bearings.count;
    let mut here = start;
    for station in 1..=stations {
        here = builder.station(&here, station, stations);
    }
    if input.system.feeding_order == FeedingOrder::MainGalleryFirst {
        builder.lifters(&here, "top end feed", "lifter gallery", input.system.lifters.count, feed.count);
    }
    builder.finish(stations)
}

/// Of so many things spread evenly over stations, how many belong to one.
pub(super) fn part(things: u32, station: u32, stations: u32) -> u32 {
    let until = |station: u32| u64::from(things) * u64::from(station) / u64::from(stations);
    u32::try_from(until(station) - until(station - 1)).unwrap_or_default()
}

struct Builder<'a> {
    input: &'a BudgetInput<'a>,
    feed: &'a Element,
    nodes: Vec<String>,
    elements: Vec<(Element, &'static str)>,
    lifters: Vec<usize>,
    at: Vec<String>,
}

impl Builder<'_> {
    fn node(&mut self, name: &str) -> String {
        self.nodes.push(name.to_owned());
        name.to_owned()
    }

    #[allow(clippy::too_many_arguments)] // What a part, its place and its number need.
    fn add(
        &mut self,
        part: &Element,
        section: &'static str,
        name: &str,
        group: Group,
        from: &str,
        to: &str,
        count: u32,
    ) {
        let element =
            Element { name: name.to_owned(), group, from: from.to_owned(), to: to.to_owned(), count, ..part.clone() };
        self.elements.push((element, section));
    }

    /// Pump, relief valve and filter; the name of the node behind them.
    fn supply(&mut self) -> String {
        let system = self.input.system;
        let outlet = self.node("pump outlet");
        self.add(&system.pump, "pump", "pump", Group::Other, "sump", &outlet, 1);
        self.add(&system.relief_valve, "relief_valve", "relief valve", Group::Other, &outlet, "sump", 1);
        let Some(filter) = &system.filter else { return outlet };
        let filtered = self.node("filtered");
        self.add(filter, "filter", "filter", Group::Other, &outlet, &filtered, 1);
        filtered
    }

    /// A stretch of the gallery and everything on its end; the name of that end.
    fn station(&mut self, before: &str, station: u32, stations: u32) -> String {
        let system = self.input.system;
        let here = self.node(&format!("gallery {station}"));
        let stretch = Element {
            length: system.gallery.length.map(|whole| Length::from_metres(whole.metres() / f64::from(stations))),
            ..system.gallery.clone()
        };
        self.add(&stretch, "gallery", &format!("gallery {station}"), Group::Other, before, &here, 1);
        if system.feeding_order == FeedingOrder::TopEndFirst {
            let count = part(system.lifters.count, station, stations);
            let names = [format!("lifter feed {station}"), format!("lifters {station}")];
            self.lifters(&here, &names[0], &names[1], count, count);
        }
        let main = self.node(&format!("main {station}"));
        self.add(&system.main_feed, "main_feed", &format!("feed of main {station}"), Group::Other, &here, &main, 1);
        let bearing = assumed(&system.main_bearings, USUAL_ECCENTRICITY[0]);
        self.add(&bearing, "main_bearings", &format!("main bearing {station}"), Group::BottomEnd, &main, "sump", 1);
        self.rods(&main, station, part(self.input.cylinders, station, stations));
        if let Some(cams) = &system.cam_bearings {
            let count = part(cams.count, station, stations);
            if count > 0 {
                let bearing = assumed(cams, USUAL_ECCENTRICITY[0]);
                self.add(
                    &bearing,
                    "cam_bearings",
                    &format!("cam bearings {station}"),
                    Group::TopEnd,
                    &main,
                    "sump",
                    count,
                );
            }
        }
        here
    }

    /// Crank drillings from a main bearing, and their rod bearings.
    fn rods(&mut self, main: &str, station: u32, count: u32) {
        if count == 0 {
            return;
        }
        let system = self.input.system;
        let radius = |part: &Element| part.diameter.map_or(0.0, |diameter| 0.5 * diameter.metres());
        let exit = 0.5 * self.input.stroke.metres() + radius(&system.rod_bearings);
        let drilling = Element {
            entry_radius: Some(Length::from_metres(radius(&system.main_bearings))),
            exit_radius: Some(Length::from_metres(exit)),
            ..system.crank_drilling.clone()
        };
        let rod = self.node(&format!("rods of main {station}"));
        self.add(
            &drilling,
            "crank_drilling",
            &format!("drillings of main {station}"),
            Group::BottomEnd,
            main,
            &rod,
            count,
        );
        let bearing = Element {
            bearing_feed: Some(BearingFeed::Hole),
            feed_hole: system.rod_bearings.feed_hole.or(system.crank_drilling.diameter),
            ..assumed(&system.rod_bearings, USUAL_ECCENTRICITY[0])
        };
        self.add(
            &bearing,
            "rod_bearings",
            &format!("rod bearings of main {station}"),
            Group::BottomEnd,
            &rod,
            "sump",
            count,
        );
    }

    /// Lifters and their metering holes behind a feed.
    fn lifters(&mut self, from: &str, feed: &str, node: &str, count: u32, feeds: u32) {
        if count == 0 {
            return;
        }
        let system = self.input.system;
        let node = self.node(node);
        let section = if self.feed.kind == Kind::Restrictor { "restrictor" } else { "top_feed" };
        let part = self.feed.clone();
        self.add(&part, section, feed, Group::TopEnd, from, &node, feeds);
        let gap = assumed(&system.lifters, USUAL_ECCENTRICITY[1]);
        self.lifters.extend([self.elements.len(), self.elements.len() + 1]);
        self.add(&gap, "lifters", &format!("leak of {node}"), Group::TopEnd, &node, "sump", count);
        self.add(&system.metering, "metering", &format!("metering of {node}"), Group::TopEnd, &node, "sump", count);
        self.at.push(node);
    }

    fn finish(self, stations: u32) -> Made {
        let system = self.input.system;
        let farthest = format!("main {stations}");
        let wanted = system.per_thousand_revolutions.is_some() || system.least_pressure.is_some();
        let rule = PressureRule {
            node: farthest.clone(),
            per_thousand_revolutions: system.per_thousand_revolutions,
            least: system.least_pressure,
        };
        let node = |name: String| Node { pressure: (name == "sump").then(Pressure::default), name };
        let (elements, sections) = self.elements.into_iter().unzip();
        Made {
            circuit: CircuitInput {
                oil: system.lubricant.clone(),
                oil_temperature: system.oil_temperature,
                engine_speed: self.input.engine_speed,
                nodes: self.nodes.into_iter().map(node).collect(),
                elements,
                pressure_rule: wanted.then_some(rule),
                velocity_limit: None,
                watch: Vec::new(),
                sweep: None,
                map: None,
                size: None,
            },
            sections,
            lifter_elements: self.lifters,
            lifter_nodes: self.at,
            farthest,
        }
    }
}

fn assumed(part: &Element, eccentricity: f64) -> Element {
    Element { eccentricity: part.eccentricity.or(Some(Ratio::from_plain(eccentricity))), ..part.clone() }
}
