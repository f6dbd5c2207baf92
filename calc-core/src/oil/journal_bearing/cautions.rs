//! What to look at twice about a bearing.

use crate::caution::{About, COMMON_PRACTICE, Caution, STANDING, Severity};
use crate::limit;
use crate::oil::bearing_load;
use crate::oil::law::OilLaw;
use crate::units::{Angle, Quantity, Temperature, TemperatureDifference};

use super::{Groove, JournalBearing, JournalBearingInput};

/// Clearance over diameter of most engine bearings: common practice, no source.
const USUAL_CLEARANCE_RATIO: [f64; 2] = [0.000_5, 0.002];
/// From here on small errors of shape and alignment are as large as the film.
const HIGH_ECCENTRICITY: f64 = 0.9;
/// Oil that leaves hotter than this.
const HOT: Temperature = Temperature::from_degrees_fahrenheit(250.0);
/// Films thicker than this many roughnesses keep the faces apart.
const FULL_FILM: f64 = 3.0;
/// A groove's end nearer to the load than this takes part of the film that carries.
const LOADED_ARC: Angle = Angle::from_degrees(60.0);
/// Taylor's number of vortices between cylinders: Re sqrt(c/r).
const TAYLOR: f64 = 41.1;

const TRUMPLER: &str =
    "P. R. Trumpler's criteria, as in Shigley and Mischke, Mechanical Engineering Design (from memory)";
const FIRST_PRINCIPLES: &str = "first principles";

pub(super) fn cautions(input: &JournalBearingInput, found: &JournalBearing, law: &OilLaw) -> Vec<Caution> {
    let mut cautions = Vec::new();
    unusual(input, law, &mut cautions);
    film(found, &mut cautions);
    temperature(input, found, &mut cautions);
    feed(input, &mut cautions);
    cautions.push(steady(found));
    cautions.push(STANDING);
    cautions
}

fn unusual(input: &JournalBearingInput, law: &OilLaw, cautions: &mut Vec<Caution>) {
    fn given<Q: Quantity>(limit: limit::Limit<Q>, path: &'static str, value: Option<Q>, cautions: &mut Vec<Caution>) {
        if let Some(value) = value {
            limit.unusual(path, value, cautions);
        }
    }
    limit::JOURNAL_DIAMETER.unusual("diameter", input.diameter, cautions);
    given(limit::BEARING_WIDTH, "width", input.width, cautions);
    given(limit::BEARING_LAND, "land", input.land, cautions);
    limit::BEARING_CLEARANCE.unusual("clearance", input.clearance, cautions);
    given(limit::GROOVE_WIDTH, "groove_width", input.groove_width, cautions);
    given(limit::GROOVE_ARC, "groove_arc", input.groove_arc, cautions);
    given(limit::FEED_HOLE, "hole_diameter", input.hole_diameter, cautions);
    given(limit::BEARING_LOAD, "load", input.load, cautions);
    if let Some(engine) = &input.engine_load {
        bearing_load::cautions(engine, cautions);
    }
    limit::ENGINE_SPEED.unusual("journal_speed", input.journal_speed, cautions);
    given(limit::PRESSURE_DROP, "supply_pressure", input.supply_pressure, cautions);
    given(limit::OIL_HEAT, "specific_heat", input.specific_heat, cautions);
    given(limit::FILM_THICKNESS, "film_limit", input.film_limit, cautions);
    given(limit::FILM_THICKNESS, "roughness", input.roughness, cautions);
    input.oil.cautions("oil", cautions);
    input.oil.temperature_cautions(law, "supply_temperature", input.supply_temperature, cautions);
    let ratio = input.clearance.metres() / input.diameter.metres();
    let [least, most] = USUAL_CLEARANCE_RATIO;
    if ratio < least || ratio > most {
        let detail =
            format!("The clearance is {ratio:.5} of the diameter; {least} to {most} is usual, near 0.001 most often.");
        cautions.push(caution(About::Request, "clearance", "unusual_clearance_ratio", detail, COMMON_PRACTICE));
    }
}

fn film(found: &JournalBearing, cautions: &mut Vec<Caution>) {
    let least = found.least_film;
    if found.eccentricity > HIGH_ECCENTRICITY {
        let detail = format!(
            "The thinnest film, {}, is less than a tenth of the clearance: a bent journal, a shell that gives, or dirt is as large.",
            least.shown()
        );
        cautions.push(caution(About::Answer, "eccentricity", "high_eccentricity", detail, COMMON_PRACTICE));
    }
    if found.film_to_limit.is_some_and(|ratio| ratio < 1.0) {
        let detail = format!("The thinnest film, {}, is below the limit given.", least.shown());
        let below = caution(About::Answer, "least_film", "film_below_limit", detail, "the caller's own limit");
        cautions.push(Caution { severity: Severity::Danger, ..below });
    }
    if let Some(ratio) = found.film_to_roughness.filter(|ratio| *ratio < FULL_FILM) {
        let severity = if ratio < 1.0 { Severity::Danger } else { Severity::Caution };
        let detail = format!(
            "The thinnest film, {}, is {ratio:.2} times the roughness: below three times the peaks begin to touch, below one they do.",
            least.shown()
        );
        let source = "B. J. Hamrock, Fundamentals of Fluid Film Lubrication, film parameter (from memory)";
        cautions.push(Caution {
            severity,
            ..caution(About::Answer, "film_to_roughness", "film_near_roughness", detail, source)
        });
    }
}

fn temperature(input: &JournalBearingInput, found: &JournalBearing, cautions: &mut Vec<Caution>) {
    let leaving = input.supply_temperature.kelvins() + found.temperature_rise.kelvin_steps();
    if leaving > HOT.kelvins() {
        let detail = format!(
            "The oil leaves at {}, above {}: oil and bearing metal age fast, and the hottest spot is hotter.",
            Temperature::from_kelvins(leaving).shown(),
            HOT.shown()
        );
        cautions.push(caution(About::Answer, "temperature_rise", "hot_film", detail, TRUMPLER));
    }
    let implied = TemperatureDifference::from_kelvin_steps(
        2.0 * (found.film_temperature.kelvins() - input.supply_temperature.kelvins()),
    );
    if input.film_temperature.is_some() && (implied.si() - found.temperature_rise.si()).abs() > 10.0 {
        let detail = format!(
            "The film temperature was given; friction on the side flow would make the oil leave {} warmer than it comes, and the film \
             half that.",
            found.temperature_rise.shown()
        );
        cautions.push(caution(About::Request, "film_temperature", "heat_does_not_balance", detail, FIRST_PRINCIPLES));
    }
    let (radius, clearance) = (input.diameter.metres() / 2.0, input.clearance.metres() / 2.0);
    let reynolds =
        found.film_density.kilograms_per_cubic_metre() * input.journal_speed.radians_per_second() * radius * clearance
            / found.film_viscosity.pascal_seconds();
    if reynolds * (clearance / radius).sqrt() > TAYLOR {
        let detail = format!(
            "The film's Reynolds number is {reynolds:.0}: vortices begin, friction is more than computed and flow less."
        );
        let source = "G. I. Taylor, Phil. Trans. R. Soc. A 223 (1923) 289";
        cautions.push(caution(About::Answer, "friction_power", "film_not_laminar", detail, source));
    }
}

fn feed(input: &JournalBearingInput, cautions: &mut Vec<Caution>) {
    let half = input.groove_arc.map_or(0.0, |arc| arc.degrees() / 2.0);
    let centre = input.feed_position.map_or(180.0, |position| position.degrees());
    // The shorter way round from the load to the feed's centre.
    let away = 180.0 - (centre.rem_euclid(360.0) - 180.0).abs();
    if matches!(input.groove, Groove::PartialArc | Groove::SingleHole) && away - half < LOADED_ARC.degrees() {
        let detail = format!(
            "The feed comes within {} degrees of the load: it takes film that carries, which is not in the numbers. The film is thinner \
             than computed.",
            LOADED_ARC.degrees().round()
        );
        cautions.push(caution(About::Request, "groove", "feed_in_loaded_arc", detail, COMMON_PRACTICE));
    }
    if input.groove == Groove::PartialArc {
        let detail = "What the supply presses through is a lower bound: oil that leaves round the ends of the groove is not in it.";
        let bound = caution(About::Answer, "pressure_flow", "flow_is_lower_bound", detail.to_owned(), FIRST_PRINCIPLES);
        cautions.push(Caution { severity: Severity::Note, ..bound });
    }
}

fn steady(found: &JournalBearing) -> Caution {
    let detail = if found.engine_load.is_some() {
        "The load of the worst crank angle is taken as if it stayed. It passes in milliseconds, in which the film is not squeezed out: \
         the true one is usually thicker. Compare bearings with it; it does not replace an orbit calculation."
    } else {
        "The load is taken as steady in size and direction. A load that turns with the journal wears the film thinner, one that passes \
         quickly leaves it thicker."
    };
    let note = caution(About::Answer, "least_film", "steady_load", detail.to_owned(), FIRST_PRINCIPLES);
    Caution { severity: Severity::Note, ..note }
}

fn caution(about: About, path: &'static str, code: &'static str, detail: String, source: &'static str) -> Caution {
    Caution { code, severity: Severity::Caution, about, path: path.into(), detail: detail.into(), source }
}
