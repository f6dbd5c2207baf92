//! Laws of circuits of real elements.

use proptest::prelude::*;

use super::*;
use crate::units::{KinematicViscosity, Quantity, TemperatureDifference};

fn oil() -> OilInput {
    OilInput {
        cool_viscosity: Some(KinematicViscosity::from_square_millimetres_per_second(110.0)),
        hot_viscosity: Some(KinematicViscosity::from_square_millimetres_per_second(14.5)),
        density: Some(Density::from_kilograms_per_cubic_metre(875.0)),
        ..OilInput::default()
    }
}

fn mm(value: f64) -> Option<Length> {
    Some(Length::from_millimetres(value))
}

fn node(name: &str, bar: Option<f64>) -> Node {
    Node { name: name.to_owned(), pressure: bar.map(Pressure::from_bar) }
}

fn pump() -> [Element; 2] {
    let pump = Element {
        displacement: Some(Volume::from_cubic_centimetres(18.0)),
        drive_ratio: Some(Ratio::from_plain(0.5)),
        slip_flow: Some(Flow::from_litres_per_minute(4.0)),
        slip_pressure: Some(Pressure::from_bar(4.0)),
        slip_viscosity: Some(DynamicViscosity::from_millipascal_seconds(15.0)),
        ..Element::new("pump", Kind::Pump, Group::Other, "sump", "n1")
    };
    let relief = Element {
        opening_pressure: Some(Pressure::from_bar(4.0)),
        rated_flow: Some(Flow::from_litres_per_minute(60.0)),
        rated_pressure: Some(Pressure::from_bar(5.5)),
        diameter: mm(14.0),
        ..Element::new("relief", Kind::ReliefValve, Group::Other, "n1", "sump")
    };
    [pump, relief]
}

/// A pump, a relief valve, and what `links` say: a tree of passages and filters, consumers on it, some of them turning.
fn circuit(links: &[(prop::sample::Index, f64, f64)], celsius: f64, rpm: f64) -> CircuitInput {
    let mut nodes = vec![node("sump", Some(0.0)), node("n1", None)];
    let mut elements = Vec::from(pump());
    for (at, (index, one, other)) in links.iter().enumerate() {
        let from = format!("n{}", 1 + index.index(nodes.len() - 1));
        let name = format!("e{at}");
        let new = format!("n{}", nodes.len());
        let make = |kind, group, to: &str| Element::new(&name, kind, group, &from, to);
        let (narrow, wide) = (0.8 + 3.0 * one, 6.0 + 8.0 * one);
        let element = match at % 6 {
            0 => Element {
                diameter: mm(wide),
                length: mm(20.0 + 300.0 * other),
                loss_coefficient: Some(Ratio::from_plain(2.0 * other)),
                ..make(Kind::Passage, Group::Other, &new)
            },
            1 => Element {
                diameter: mm(narrow),
                length: mm(narrow * (0.5 + 8.0 * other)),
                ..make(Kind::Restrictor, Group::TopEnd, "sump")
            },
            2 => Element {
                diameter: mm(60.0),
                length: mm(20.0),
                clearance: mm(0.04 + 0.05 * one),
                eccentricity: Some(Ratio::from_plain(*other)),
                film_temperature_rise: Some(TemperatureDifference::from_celsius_steps(20.0 * other)),
                ..make(Kind::JournalBearing, Group::BottomEnd, "sump")
            },
            3 => Element {
                diameter: mm(21.0),
                length: mm(40.0),
                clearance: mm(0.02 + 0.03 * one),
                count: 1 + (4.0 * other) as u32,
                ..make(Kind::Annulus, Group::TopEnd, "sump")
            },
            4 => Element {
                rated_flow: Some(Flow::from_litres_per_minute(40.0)),
                rated_pressure: Some(Pressure::from_bar(0.1 + one)),
                rated_viscosity: Some(DynamicViscosity::from_millipascal_seconds(15.0)),
                bypass_opening_pressure: Some(Pressure::from_bar(1.0)),
                bypass_rated_flow: Some(Flow::from_litres_per_minute(40.0)),
                bypass_rated_pressure: Some(Pressure::from_bar(1.5)),
                ..make(Kind::Filter, Group::Other, &new)
            },
            _ => Element {
                diameter: mm(wide),
                length: mm(80.0),
                entry_radius: mm(30.0),
                exit_radius: mm(30.0 + 0.5 * other),
                inner_radius: mm(15.0),
                ..make(Kind::RotatingDrilling, Group::BottomEnd, &new)
            },
        };
        if matches!(element.kind, Kind::Passage | Kind::Filter | Kind::RotatingDrilling) {
            nodes.push(node(&new, None));
        }
        elements.push(element);
    }
    CircuitInput {
        oil: oil(),
        oil_temperature: Temperature::from_degrees_celsius(celsius),
        engine_speed: RotationalSpeed::from_revolutions_per_minute(rpm),
        nodes,
        elements,
        pressure_rule: None,
        velocity_limit: None,
        watch: Vec::new(),
        sweep: None,
        map: None,
        size: None,
    }
}

fn links(most: usize) -> impl Strategy<Value = Vec<(prop::sample::Index, f64, f64)>> {
    proptest::collection::vec((any::<prop::sample::Index>(), 0.0..1.0_f64, 0.0..1.0_f64), 3..most)
}

fn litres(flow: Flow) -> f64 {
    flow.litres_per_minute()
}

/// The first restrictor; every circuit of two links has one.
const RESTRICTOR: usize = 3;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn nodes_balance_to_a_billionth_of_what_the_pump_gives(links in links(199), celsius in 0.0..130.0_f64, rpm in 500.0..8000.0_f64) {
        let input = circuit(&links, celsius, rpm);
        let found = evaluate(&input)?;
        prop_assert!(found.residual_share < 1e-9, "{}", found.residual_share);
        let mut loss = vec![0.0; input.nodes.len()];
        let place = |name: &str| input.nodes.iter().position(|node| node.name == name).unwrap_or_default();
        for (element, found) in input.elements.iter().zip(&found.elements) {
            loss[place(&element.from)] += found.flow.si();
            loss[place(&element.to)] -= found.flow.si();
        }
        let supply = found.point.supply.si();
        prop_assert!(loss[1..].iter().all(|loss| loss.abs() < 1e-9 * supply), "{loss:?} of {supply}");
        let taken: f64 = found.point.groups.iter().map(|flow| flow.si()).sum::<f64>() + found.point.relief.si();
        prop_assert!((taken / supply - 1.0).abs() < 1e-8, "{taken} {supply}");
    }

    #[test]
    fn a_larger_restrictor_takes_more_and_leaves_less(links in links(60), celsius in 40.0..130.0_f64, factor in 1.02..1.5_f64) {
        let input = circuit(&links, celsius, 3000.0);
        let mut larger = input.clone();
        let diameter = input.elements[RESTRICTOR].diameter.expect("it has one");
        larger.elements[RESTRICTOR].diameter = Some(Length::from_metres(diameter.metres() * factor));
        let (before, after) = (evaluate(&input)?, evaluate(&larger)?);
        prop_assert!(after.elements[RESTRICTOR].flow > before.elements[RESTRICTOR].flow);
        prop_assert!(after.pressures[1].bar() <= before.pressures[1].bar() + 1e-9);
        prop_assert!(after.point.relief.si() <= before.point.relief.si() + 1e-12);
    }

    #[test]
    fn more_speed_raises_the_pressure_at_the_pump(links in links(60), celsius in 40.0..130.0_f64, rpm in 600.0..6000.0_f64) {
        // Without turning shafts, whose suction changes with speed as well.
        let still: Vec<_> = links.iter().copied().enumerate().filter(|(at, _)| at % 6 != 5).map(|(_, link)| link).collect();
        let mut input = circuit(&still, celsius, rpm);
        input.elements.retain(|element| element.kind != Kind::RotatingDrilling);
        let names: Vec<_> = input.elements.iter().flat_map(|element| [element.from.clone(), element.to.clone()]).collect();
        prop_assume!(input.nodes.iter().all(|node| names.contains(&node.name)));
        let slow = match evaluate(&input) {
            Ok(slow) => slow,
            // Without its drilling a node may be an island.
            Err(_) => return Ok(()),
        };
        input.engine_speed = RotationalSpeed::from_revolutions_per_minute(rpm * 1.1);
        let fast = evaluate(&input)?;
        for (slow, fast) in slow.pressures.iter().zip(&fast.pressures) {
            prop_assert!(fast.bar() >= slow.bar() - 1e-9, "{slow:?} {fast:?}");
        }
        prop_assert!(fast.elements[RESTRICTOR].flow.si() >= slow.elements[RESTRICTOR].flow.si() - 1e-15);
    }

    #[test]
    fn several_side_by_side_are_one_with_a_count(links in links(40), celsius in 20.0..130.0_f64, count in 2..6_u32) {
        let mut input = circuit(&links, celsius, 2500.0);
        input.elements[RESTRICTOR].count = count;
        let counted = evaluate(&input)?;
        input.elements[RESTRICTOR].count = 1;
        for copy in 1..count {
            let twin = Element { name: format!("twin {copy}"), ..input.elements[RESTRICTOR].clone() };
            input.elements.push(twin);
        }
        let single = evaluate(&input)?;
        let whole = litres(counted.elements[RESTRICTOR].flow);
        prop_assert!((whole - f64::from(count) * litres(single.elements[RESTRICTOR].flow)).abs() < 1e-8 * whole);
        for (one, other) in counted.pressures.iter().zip(&single.pressures) {
            prop_assert!((one.bar() - other.bar()).abs() < 1e-7);
        }
    }

    #[test]
    fn the_order_of_elements_and_the_way_to_a_point_do_not_matter(links in links(100), celsius in 20.0..130.0_f64) {
        let mut input = circuit(&links, celsius, 3500.0);
        input.watch = input.nodes.iter().skip(1).take(20).map(|node| node.name.clone()).collect();
        let base = evaluate(&input)?;
        input.elements.reverse();
        input.map = Some(OperatingMap {
            engine_speeds: [700.0, 7000.0, 3500.0].map(RotationalSpeed::from_revolutions_per_minute).to_vec(),
            oil_temperatures: [celsius + 30.0, celsius].map(Temperature::from_degrees_celsius).to_vec(),
        });
        let turned = evaluate(&input)?;
        for (one, other) in base.pressures.iter().zip(&turned.pressures) {
            prop_assert!((one.bar() - other.bar()).abs() < 1e-7, "{one:?} {other:?}");
        }
        // The last point of the map is the first operating point again, come to from another side.
        for (one, other) in base.point.watched.iter().zip(&turned.map[5].watched) {
            prop_assert!((one.bar() - other.bar()).abs() < 1e-7, "{one:?} {other:?}");
        }
    }

    #[test]
    fn the_diameter_found_gives_what_was_wanted(links in links(40), share in 0.05..0.95_f64) {
        let mut input = circuit(&links, 90.0, 3000.0);
        input.elements[RESTRICTOR].length = mm(4.0);
        let [smallest, largest] = [0.5, 6.0].map(Length::from_millimetres);
        let at = |input: &CircuitInput, diameter| {
            let mut input = input.clone();
            input.elements[RESTRICTOR].diameter = Some(diameter);
            evaluate(&input)
        };
        let name = input.elements[RESTRICTOR].name.clone();
        let ends = [at(&input, smallest)?, at(&input, largest)?].map(|found| found.elements[RESTRICTOR].flow.si());
        let flow = Flow::from_si(ends[0] + share * (ends[1] - ends[0]));
        input.size = Some(Size {
            element: name.clone(),
            smallest,
            largest,
            at: name,
            flow: Some(flow),
            share: None,
            pressure: None,
        });
        let found = evaluate(&input)?.size.expect("it was asked for");
        prop_assert!((found.flow.si() / flow.si() - 1.0).abs() < 1e-6);
        let again = at(&input, found.diameter)?;
        prop_assert!((again.elements[RESTRICTOR].flow.si() / flow.si() - 1.0).abs() < 1e-6);
    }
}

#[test]
fn five_thousand_elements_are_refused_and_a_thousand_are_balanced() {
    let long = |count: usize| -> CircuitInput {
        let mut input = circuit(&[], 90.0, 3000.0);
        for at in 0..count - 2 {
            let link = Element {
                diameter: mm(8.0),
                length: mm(50.0),
                ..Element::new(
                    &format!("e{at}"),
                    Kind::Passage,
                    Group::Other,
                    &format!("n{}", at + 1),
                    &format!("n{}", at + 2),
                )
            };
            input.nodes.push(node(&format!("n{}", at + 2), None));
            input.elements.push(link);
        }
        input.nodes.truncate(MOST_NODES);
        input.elements.retain(|element| input.nodes.iter().any(|node| node.name == element.to));
        input
    };
    let many = CircuitInput { elements: vec![pump()[0].clone(); 5000], ..long(10) };
    let faults = evaluate(&many).expect_err("too many").faults();
    assert!(faults.iter().any(|fault| fault.path == "elements" && fault.code == "wrong_count"), "{faults:?}");
    let most = long(1000);
    assert!(most.elements.len() > 990);
    assert!(evaluate(&most).is_ok_and(|found| found.residual_share < 1e-9));
}
