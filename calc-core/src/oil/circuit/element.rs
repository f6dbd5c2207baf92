//! The elements of an oil circuit and their numbers.

use validator::ValidationError;

use crate::caution::Caution;
use crate::limit;
use crate::units::{Angle, DynamicViscosity, Flow, Length, Pressure, Quantity, Ratio, TemperatureDifference, Volume};

/// What an element is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Displacement pump, from its inlet to its outlet.
    Pump,
    /// Spring-loaded valve that lets oil go above a pressure.
    ReliefValve,
    /// Filter, with or without a bypass valve.
    Filter,
    /// Cooler, with or without a bypass valve.
    Cooler,
    /// Drilled or tubular passage.
    Passage,
    /// Drilled plug or another short hole.
    Restrictor,
    /// Thin annular gap: a lifter in its bore, a pin in its bush.
    Annulus,
    /// Journal bearing fed with oil; it drains into its second node.
    JournalBearing,
    /// Passage drilled in a turning shaft.
    RotatingDrilling,
    /// Hole that squirts into an open space.
    Jet,
    /// Consumer that takes the same flow at any pressure.
    FixedConsumer,
}

impl Kind {
    /// The name in messages.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Pump => "pump",
            Self::ReliefValve => "relief valve",
            Self::Filter => "filter",
            Self::Cooler => "cooler",
            Self::Passage => "passage",
            Self::Restrictor => "restrictor",
            Self::Annulus => "annulus",
            Self::JournalBearing => "journal bearing",
            Self::RotatingDrilling => "rotating drilling",
            Self::Jet => "jet",
            Self::FixedConsumer => "fixed consumer",
        }
    }

    /// The numbers that it must have, and those that it may have.
    pub(super) const fn numbers(self) -> (&'static [Number], &'static [Number]) {
        use Number as N;
        match self {
            Self::Pump => (&[N::Displacement], &[N::DriveRatio, N::SlipFlow, N::SlipPressure, N::SlipViscosity]),
            Self::ReliefValve => (&[N::OpeningPressure, N::RatedFlow, N::RatedPressure], &[N::Diameter]),
            Self::Filter | Self::Cooler => (
                &[N::RatedFlow, N::RatedPressure, N::RatedViscosity],
                &[N::BypassOpeningPressure, N::BypassRatedFlow, N::BypassRatedPressure],
            ),
            Self::Passage => (&[N::Diameter, N::Length], &[N::Bends, N::LossCoefficient, N::Roughness]),
            Self::Restrictor | Self::Jet => (&[N::Diameter, N::Length], &[N::DischargeCoefficient]),
            Self::Annulus => (&[N::Diameter, N::Length, N::Clearance], &[N::Eccentricity]),
            Self::JournalBearing => (
                &[N::Diameter, N::Length, N::Clearance],
                &[N::Eccentricity, N::GrooveWidth, N::GrooveArc, N::FeedHole, N::FeedAngle, N::FilmTemperatureRise],
            ),
            Self::RotatingDrilling => (
                &[N::Diameter, N::Length, N::EntryRadius, N::ExitRadius],
                &[N::InnerRadius, N::Bends, N::LossCoefficient, N::Roughness],
            ),
            Self::FixedConsumer => (&[N::Flow], &[]),
        }
    }

    /// Whether some pressure always moves oil through it, so that it ties its two nodes together.
    pub(super) const fn ties(self) -> bool {
        !matches!(self, Self::FixedConsumer | Self::Pump)
    }
}

/// How oil comes into a journal bearing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BearingFeed {
    /// By a groove all round, in the middle.
    FullGroove,
    /// By a groove over an arc, in the middle.
    PartialGroove,
    /// By one hole, in the middle.
    Hole,
}

/// Whose oil it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Group {
    /// Main and rod bearings and what feeds them.
    BottomEnd,
    /// Lifters, camshaft, pushrods and rockers.
    TopEnd,
    /// Everything else.
    Other,
}

/// One element, or `count` alike side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct Element {
    /// What it is called.
    pub name: String,
    /// What it is.
    pub kind: Kind,
    /// Whose oil it is.
    pub group: Group,
    /// The node that oil comes from.
    pub from: String,
    /// The node that oil goes to.
    pub to: String,
    /// How many alike stand side by side.
    pub count: u32,
    /// Of the hole, passage, gap or journal; of a relief valve, its port when wide open.
    pub diameter: Option<Length>,
    /// Of the hole, passage or gap; of a bearing, its width.
    pub length: Option<Length>,
    /// Discharge coefficient of an edge that is not sharp, at high Reynolds number.
    pub discharge_coefficient: Option<Ratio>,
    /// Square drilled turns on the way.
    pub bends: Option<Ratio>,
    /// Sum of the loss coefficients of ends, junctions and what else is in the way.
    pub loss_coefficient: Option<Ratio>,
    /// Roughness of the wall.
    pub roughness: Option<Length>,
    /// Diameter of the bore less that of what runs in it.
    pub clearance: Option<Length>,
    /// Off centre as a share of the radial clearance.
    pub eccentricity: Option<Ratio>,
    /// How oil comes into a bearing; a full groove when absent.
    pub bearing_feed: Option<BearingFeed>,
    /// Width of a bearing's groove; what is left of the width are its two lands.
    pub groove_width: Option<Length>,
    /// How far a groove that is not full goes round.
    pub groove_arc: Option<Angle>,
    /// Diameter of the hole that feeds a bearing.
    pub feed_hole: Option<Length>,
    /// Where the middle of groove or hole is, from the thickest film along the motion.
    pub feed_angle: Option<Angle>,
    /// How much warmer a bearing's film is than the oil that feeds it.
    pub film_temperature_rise: Option<TemperatureDifference>,
    /// What a fixed consumer takes, each.
    pub flow: Option<Flow>,
    /// Of a pump, in one of its revolutions.
    pub displacement: Option<Volume>,
    /// Pump revolutions per revolution of the crankshaft.
    pub drive_ratio: Option<Ratio>,
    /// What slips back in a pump at the slip pressure.
    pub slip_flow: Option<Flow>,
    /// Pressure at which that was found.
    pub slip_pressure: Option<Pressure>,
    /// Viscosity at which that was found.
    pub slip_viscosity: Option<DynamicViscosity>,
    /// Drop at which a relief valve begins to open.
    pub opening_pressure: Option<Pressure>,
    /// Flow at the rated pressure.
    pub rated_flow: Option<Flow>,
    /// Drop at the rated flow.
    pub rated_pressure: Option<Pressure>,
    /// Viscosity at which that was found.
    pub rated_viscosity: Option<DynamicViscosity>,
    /// Drop at which a bypass begins to open.
    pub bypass_opening_pressure: Option<Pressure>,
    /// Flow through the bypass at its rated pressure.
    pub bypass_rated_flow: Option<Flow>,
    /// Drop at that flow.
    pub bypass_rated_pressure: Option<Pressure>,
    /// Where oil enters a rotating drilling, from the shaft's axis.
    pub entry_radius: Option<Length>,
    /// Where it leaves.
    pub exit_radius: Option<Length>,
    /// The innermost point on its way; the smaller of both when absent.
    pub inner_radius: Option<Length>,
}

macro_rules! numbers {
    ($($(#[$doc:meta])* $variant:ident $field:ident: $quantity:ident, $limit:ident $check:ident;)+) => {
        /// A number of an element, for a sweep.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Number {
            $($(#[$doc])* $variant),+
        }

        impl Number {
            /// All of them.
            pub(super) const ALL: &[Self] = &[$(Self::$variant),+];

            /// The name of the field.
            pub(crate) const fn name(self) -> &'static str {
                match self { $(Self::$variant => stringify!($field)),+ }
            }

            /// What kind of quantity it is.
            pub(super) const fn quantity(self) -> &'static str {
                match self { $(Self::$variant => <$quantity as Quantity>::NAME),+ }
            }

            /// Its value in an element, in SI units.
            pub(super) fn of(self, element: &Element) -> Option<f64> {
                match self { $(Self::$variant => element.$field.map(Quantity::si)),+ }
            }

            /// Puts a value in SI units into an element.
            pub(super) fn set(self, element: &mut Element, value: f64) {
                match self { $(Self::$variant => element.$field = Some($quantity::from_si(value))),+ }
            }

            /// Adds a caution when a value in SI units is outside the usual range.
            pub(super) fn unusual(self, value: f64, path: &str, cautions: &mut Vec<Caution>) {
                match self {
                    $(Self::$variant => limit::$limit.unusual(path.to_owned(), $quantity::from_si(value), cautions)),+
                }
            }

            /// Whether a value in SI units is in the accepted range.
            pub(super) fn check(self, value: f64) -> Result<(), ValidationError> {
                match self { $(Self::$variant => limit::$check(&$quantity::from_si(value))),+ }
            }
        }

        impl Element {
            /// An element of one kind between two nodes, without any number yet.
            #[must_use]
            pub fn new(name: &str, kind: Kind, group: Group, from: &str, to: &str) -> Self {
                Self {
                    name: name.to_owned(),
                    kind,
                    group,
                    from: from.to_owned(),
                    to: to.to_owned(),
                    count: 1,
                    bearing_feed: None,
                    $($field: None),+
                }
            }
        }
    };
}

numbers! {
    /// Diameter.
    Diameter diameter: Length, CIRCUIT_DIAMETER circuit_diameter;
    /// Length or width.
    Length length: Length, CIRCUIT_LENGTH circuit_length;
    /// Discharge coefficient.
    DischargeCoefficient discharge_coefficient: Ratio, DISCHARGE_COEFFICIENT discharge_coefficient;
    /// Square turns.
    Bends bends: Ratio, CIRCUIT_BENDS circuit_bends;
    /// Loss coefficients.
    LossCoefficient loss_coefficient: Ratio, LOSS_COEFFICIENT loss_coefficient;
    /// Roughness.
    Roughness roughness: Length, WALL_ROUGHNESS wall_roughness;
    /// Clearance on the diameter.
    Clearance clearance: Length, GAP_CLEARANCE gap_clearance;
    /// Eccentricity.
    Eccentricity eccentricity: Ratio, CIRCUIT_ECCENTRICITY circuit_eccentricity;
    /// Width of a groove.
    GrooveWidth groove_width: Length, GROOVE_WIDTH groove_width;
    /// Arc of a groove.
    GrooveArc groove_arc: Angle, GROOVE_ARC groove_arc;
    /// Feed hole of a bearing.
    FeedHole feed_hole: Length, FEED_HOLE feed_hole;
    /// Middle of groove or hole.
    FeedAngle feed_angle: Angle, FEED_POSITION feed_position;
    /// Warming of a film.
    FilmTemperatureRise film_temperature_rise: TemperatureDifference, FILM_RISE film_rise;
    /// Fixed flow.
    Flow flow: Flow, OIL_FLOW oil_flow;
    /// Displacement of a pump.
    Displacement displacement: Volume, PUMP_DISPLACEMENT pump_displacement;
    /// Drive ratio of a pump.
    DriveRatio drive_ratio: Ratio, DRIVE_RATIO drive_ratio;
    /// Slip of a pump.
    SlipFlow slip_flow: Flow, OIL_FLOW oil_flow;
    /// Pressure of that slip.
    SlipPressure slip_pressure: Pressure, VALVE_PRESSURE valve_pressure;
    /// Viscosity of that slip.
    SlipViscosity slip_viscosity: DynamicViscosity, RATING_VISCOSITY rating_viscosity;
    /// Opening pressure.
    OpeningPressure opening_pressure: Pressure, VALVE_PRESSURE valve_pressure;
    /// Rated flow.
    RatedFlow rated_flow: Flow, OIL_FLOW oil_flow;
    /// Rated pressure.
    RatedPressure rated_pressure: Pressure, VALVE_PRESSURE valve_pressure;
    /// Rated viscosity.
    RatedViscosity rated_viscosity: DynamicViscosity, RATING_VISCOSITY rating_viscosity;
    /// Opening pressure of a bypass.
    BypassOpeningPressure bypass_opening_pressure: Pressure, VALVE_PRESSURE valve_pressure;
    /// Rated flow of a bypass.
    BypassRatedFlow bypass_rated_flow: Flow, OIL_FLOW oil_flow;
    /// Rated pressure of a bypass.
    BypassRatedPressure bypass_rated_pressure: Pressure, VALVE_PRESSURE valve_pressure;
    /// Entry radius of a rotating drilling.
    EntryRadius entry_radius: Length, SHAFT_RADIUS shaft_radius;
    /// Exit radius.
    ExitRadius exit_radius: Length, SHAFT_RADIUS shaft_radius;
    /// Innermost radius.
    InnerRadius inner_radius: Length, SHAFT_RADIUS shaft_radius;
}
