//! Laws of the budget, and what the trade holds of drilled plugs.

use proptest::prelude::*;

use super::*;
use crate::oil::circuit::{Group, Kind, evaluate as balanced};
use crate::units::{Density, DynamicViscosity, KinematicViscosity, TemperatureDifference, Volume};

fn inch(value: f64) -> Option<Length> {
    Some(Length::from_inches(value))
}

fn element(kind: Kind, count: u32, diameter: Option<Length>, length: Option<Length>) -> Element {
    Element { count, diameter, length, ..Element::new("", kind, Group::Other, "", "") }
}

/// An invented V8 with solid roller lifters and a quarter-inch gallery to its top end.
fn system(order: FeedingOrder, restrictor: Option<f64>) -> OilSystem {
    let bearing = |count, diameter, length, clearance| Element {
        clearance: inch(clearance),
        film_temperature_rise: Some(TemperatureDifference::from_celsius_steps(15.0)),
        ..element(Kind::JournalBearing, count, inch(diameter), inch(length))
    };
    OilSystem {
        lubricant: OilInput {
            cool_viscosity: Some(KinematicViscosity::from_square_millimetres_per_second(105.0)),
            hot_viscosity: Some(KinematicViscosity::from_square_millimetres_per_second(14.2)),
            density: Some(Density::from_kilograms_per_cubic_metre(872.0)),
            ..OilInput::default()
        },
        oil_temperature: Temperature::from_degrees_fahrenheit(220.0),
        feeding_order: order,
        pump: Element {
            displacement: Some(Volume::from_cubic_centimetres(19.0)),
            drive_ratio: Some(crate::units::Ratio::from_plain(0.5)),
            slip_flow: Some(Flow::from_us_gallons_per_minute(0.6)),
            slip_pressure: Some(Pressure::from_pounds_per_square_inch(50.0)),
            slip_viscosity: Some(DynamicViscosity::from_millipascal_seconds(12.0)),
            ..element(Kind::Pump, 1, None, None)
        },
        relief_valve: Element {
            opening_pressure: Some(Pressure::from_pounds_per_square_inch(60.0)),
            rated_flow: Some(Flow::from_us_gallons_per_minute(8.0)),
            rated_pressure: Some(Pressure::from_pounds_per_square_inch(75.0)),
            ..element(Kind::ReliefValve, 1, None, None)
        },
        filter: None,
        gallery: element(Kind::Passage, 1, inch(0.4375), inch(20.0)),
        main_feed: element(Kind::Passage, 1, inch(0.28), inch(2.0)),
        main_bearings: Element { groove_width: inch(0.12), ..bearing(5, 2.45, 0.85, 0.0028) },
        crank_drilling: element(Kind::RotatingDrilling, 1, inch(0.24), inch(3.5)),
        rod_bearings: bearing(1, 2.1, 0.82, 0.0025),
        cam_bearings: Some(Element { groove_width: inch(0.1), ..bearing(5, 1.95, 0.8, 0.003) }),
        lifters: Element { clearance: inch(0.0015), ..element(Kind::Annulus, 16, inch(0.843), inch(0.8)) },
        metering: element(Kind::Jet, 1, inch(0.04), inch(0.1)),
        top_feed: element(Kind::Passage, 1, inch(0.25), inch(3.0)),
        restrictor: restrictor.map(|diameter| element(Kind::Restrictor, 1, inch(diameter), inch(0.3))),
        per_thousand_revolutions: None,
        least_pressure: None,
        top_end_needs: None,
    }
}

fn budget(system: &OilSystem, rpm: f64) -> Result<Budget, Error> {
    evaluate(&BudgetInput {
        cylinders: 8,
        stroke: Length::from_inches(3.75),
        engine_speed: RotationalSpeed::from_revolutions_per_minute(rpm),
        system,
        path: "system",
        speed_path: "engine_speed",
    })
}

/// Common practice, no source: a plug of 0.080 to 0.100 in is enough for sixteen solid roller lifters with pushrods and rockers.
#[test]
fn a_drilled_plug_feeds_the_top_end_and_leaves_more_for_the_bottom_end() -> Result<(), Error> {
    for diameter in [0.080, 0.090, 0.100] {
        let found = budget(&system(FeedingOrder::MainGalleryFirst, Some(diameter)), 2000.0)?;
        let (gain, restricted) = (found.gain.expect("there is a plug"), found.restricted.expect("there is a plug"));
        assert!(gain.bottom_end_share > 0.15, "{diameter}: {gain:?}");
        assert!(gain.farthest_main.pounds_per_square_inch() > 3.0, "{diameter}: {gain:?}");
        assert!(gain.top_end_kept > 0.3 && gain.top_end_kept < 0.95, "{diameter}: {gain:?}");
        assert!(restricted.at_lifters.pounds_per_square_inch() > 0.5, "{diameter}: {restricted:?}");
    }
    Ok(())
}

#[test]
fn a_plug_as_wide_as_the_gallery_changes_little() -> Result<(), Error> {
    let gain = budget(&system(FeedingOrder::MainGalleryFirst, Some(0.25)), 2000.0)?.gain.expect("there is a plug");
    assert!(gain.bottom_end_share.abs() < 0.08 && (gain.top_end_kept - 1.0).abs() < 0.03, "{gain:?}");
    Ok(())
}

#[test]
fn faults_are_named_as_the_build_names_them() {
    let mut wrong = system(FeedingOrder::TopEndFirst, Some(0.06));
    wrong.main_bearings.clearance = inch(2.0);
    wrong.crank_drilling.diameter = inch(0.0);
    wrong.lubricant.hot_viscosity = Some(KinematicViscosity::from_square_millimetres_per_second(0.1));
    let faults = budget(&wrong, 3000.0).expect_err("it is wrong").faults();
    let paths: Vec<_> = faults.iter().map(|fault| fault.path.as_str()).collect();
    assert!(
        paths.contains(&"system/main_bearings/clearance") && paths.contains(&"system/crank_drilling/diameter"),
        "{faults:?}"
    );
    let mut unique = paths.clone();
    unique.dedup();
    assert_eq!(paths.len(), unique.len() + 1, "the clearance breaks two rules: {faults:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn a_smaller_plug_leaves_more_for_the_bottom_end(
        first in any::<bool>(),
        diameter in 0.04..0.2_f64,
        factor in 0.6..0.95_f64,
        rpm in 700.0..7000.0_f64,
    ) {
        let order = if first { FeedingOrder::TopEndFirst } else { FeedingOrder::MainGalleryFirst };
        let [wide, narrow] = [diameter, factor * diameter].map(|diameter| budget(&system(order, Some(diameter)), rpm));
        let [wide, narrow] = [wide?, narrow?].map(|found| found.restricted.expect("there is a plug"));
        prop_assert!(narrow.point.groups[0] > wide.point.groups[0]);
        prop_assert!(narrow.each_lifter < wide.each_lifter);
        prop_assert!(narrow.farthest_main > wide.farthest_main);
        prop_assert!(narrow.residual_share < 1e-9 && wide.residual_share < 1e-9);
    }

    #[test]
    fn the_circuit_returned_is_the_circuit_balanced(first in any::<bool>(), rpm in 700.0..7000.0_f64) {
        let order = if first { FeedingOrder::TopEndFirst } else { FeedingOrder::MainGalleryFirst };
        let found = budget(&system(order, Some(0.09)), rpm)?;
        let again = balanced(&found.circuit)?;
        prop_assert_eq!(Some(again.point.groups), found.restricted.map(|restricted| restricted.point.groups));
    }

    #[test]
    fn things_are_spread_evenly_and_all_of_them(things in 0..200_u32, stations in 1..50_u32) {
        let parts: Vec<_> = (1..=stations).map(|station| generate::part(things, station, stations)).collect();
        prop_assert_eq!(parts.iter().sum::<u32>(), things);
        prop_assert!(parts.iter().max().zip(parts.iter().min()).is_some_and(|(most, least)| most - least <= 1));
    }
}
