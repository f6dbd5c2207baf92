//! Laws of any network of rising links.

use proptest::prelude::*;

use super::{Law, Solver, Through};

/// a q + b q |q| = drop + head, or a relief that opens at a drop.
#[derive(Debug, Clone, Copy)]
enum Test {
    Quadratic { linear: f64, square: f64, head: f64 },
    Relief { opens: f64, slope: f64 },
    Constant(f64),
}

impl Law for Test {
    fn through(&self, drop: f64, _: Option<f64>) -> Through {
        match *self {
            Self::Quadratic { linear, square, head } => {
                let drop = drop + head;
                let root = (linear * linear + 4.0 * square * drop.abs()).sqrt();
                Through::known(2.0 * drop / (linear + root), 1.0 / root)
            }
            Self::Relief { opens, slope } if drop > opens => Through::known(slope * (drop - opens), slope),
            Self::Relief { slope, .. } => Through::known(0.0, slope * 1e-6),
            Self::Constant(flow) => Through::known(flow, 0.0),
        }
    }
}

/// A pump from node 0 into node 1, a relief back, a random tree, random ties and a drain from every node.
fn network() -> impl Strategy<Value = (usize, Vec<[usize; 2]>, Vec<Test>)> {
    let link =
        (any::<prop::sample::Index>(), any::<prop::sample::Index>(), -3.0..3.0_f64, -3.0..3.0_f64, -0.2..0.2_f64);
    (proptest::collection::vec(link, 3..190), 0.1..10.0_f64, 0.5..8.0_f64).prop_map(|(links, pump, opens)| {
        let mut ends = vec![[0, 1], [1, 0]];
        let mut laws = vec![Test::Constant(pump), Test::Relief { opens, slope: 3.0 }];
        let mut nodes = 2;
        for (at, (one, other, linear, square, head)) in links.into_iter().enumerate() {
            let law = Test::Quadratic { linear: 10.0_f64.powf(linear), square: 10.0_f64.powf(square), head };
            let pair = match at % 3 {
                0 => {
                    nodes += 1;
                    [1 + one.index(nodes - 2), nodes - 1]
                }
                1 => [1 + one.index(nodes - 1), 0],
                _ => [one.index(nodes), other.index(nodes)],
            };
            ends.push(pair);
            laws.push(law);
        }
        (nodes, ends, laws)
    })
}

fn known(nodes: usize) -> Vec<bool> {
    (0..nodes).map(|node| node == 0).collect()
}

fn solved(nodes: usize, ends: &[[usize; 2]], laws: &[Test], start: f64) -> (Vec<f64>, Vec<f64>, f64) {
    let mut solver = Solver::new(&known(nodes), ends.to_vec());
    let mut pressures = vec![start; nodes];
    pressures[0] = 0.0;
    let balance = solver.solve(laws, &mut pressures).expect("such a network has a solution");
    assert!(balance.steps < 60, "{}", balance.steps);
    (pressures, solver.through().iter().map(|through| through.flow).collect(), balance.residual)
}

proptest! {
    #[test]
    fn every_node_balances_and_every_flow_obeys_its_law((nodes, ends, laws) in network()) {
        let (pressures, flows, residual) = solved(nodes, &ends, &laws, 5.0);
        let mut loss = vec![0.0; nodes];
        let largest = flows.iter().fold(0.0_f64, |most, flow| most.max(flow.abs()));
        for ((&[from, to], law), flow) in ends.iter().zip(&laws).zip(&flows) {
            loss[from] += flow;
            loss[to] -= flow;
            let lawful = law.through(pressures[from] - pressures[to], None).flow;
            prop_assert!((lawful - flow).abs() < 1e-8 * largest, "{law:?}: {flow} {lawful}");
        }
        let worst = loss[1..].iter().fold(0.0_f64, |worst, loss| worst.max(loss.abs()));
        prop_assert!(worst < 1e-9 * largest && residual < 1e-9 * largest, "{worst} {residual} of {largest}");
    }

    #[test]
    fn neither_the_start_nor_the_order_of_links_matters((nodes, ends, laws) in network(), start in -50.0..500.0_f64) {
        let (base, _, _) = solved(nodes, &ends, &laws, 5.0);
        let (other, _, _) = solved(nodes, &ends, &laws, start);
        let (mut turned_ends, mut turned_laws) = (ends.clone(), laws.clone());
        turned_ends.reverse();
        turned_laws.reverse();
        let (turned, _, _) = solved(nodes, &turned_ends, &turned_laws, start);
        for ((base, other), turned) in base.iter().zip(other).zip(turned) {
            prop_assert!((base - other).abs() < 1e-6 * (1.0 + base.abs()), "{base} {other}");
            prop_assert!((base - turned).abs() < 1e-6 * (1.0 + base.abs()), "{base} {turned}");
        }
    }
}

#[test]
fn a_pump_against_a_shut_relief_opens_it() {
    let laws = [Test::Constant(2.0), Test::Relief { opens: 4.0, slope: 0.5 }];
    let (pressures, _, _) = solved(2, &[[0, 1], [1, 0]], &laws, 0.0);
    assert!((pressures[1] - 8.0).abs() < 1e-9);
}

#[test]
fn a_node_without_a_way_out_is_reported_and_not_answered() {
    let mut solver = Solver::new(&[true, false], vec![[0, 1]]);
    let outcome = solver.solve(&[Test::Constant(1.0)], &mut [0.0, 1.0]);
    assert!(matches!(outcome, Err(crate::error::Error::NotConverged { .. })));
}
