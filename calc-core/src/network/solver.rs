//! The pressures that balance every node, and the flows that go with them.

use crate::error::Error;

use super::factor::{Factor, Slot};

/// Flow through a link and how it grows with the drop along it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Through {
    /// From the first end to the second.
    pub(crate) flow: f64,
    /// Change of the flow with the drop; never negative.
    pub(crate) slope: f64,
    /// Whether a law that searches has found its flow; if not, it comes nearer with every call.
    pub(crate) settled: bool,
}

impl Through {
    /// A flow that the law knows at once.
    pub(crate) const fn known(flow: f64, slope: f64) -> Self {
        Self { flow, slope, settled: true }
    }
}

/// How the flow through a link follows the drop from its first end to its second: it never falls when the drop rises.
pub(crate) trait Law {
    /// `expected` is the flow that the network's last step promised, none at first: a law that must search begins there.
    fn through(&self, drop: f64, expected: Option<f64>) -> Through;
}

/// How well the nodes balance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Balance {
    /// What the worst node gains or loses.
    pub(crate) residual: f64,
    /// Newton steps taken.
    pub(crate) steps: u32,
}

/// The network at some pressures.
struct State {
    /// What the worst node loses.
    worst: f64,
    /// Largest flow of a link.
    largest: f64,
    /// Whether every law has found its flow.
    settled: bool,
}

/// One network: who is linked with whom never changes, laws and known pressures may.
#[derive(Debug, Clone)]
pub(crate) struct Solver {
    /// Number of the unknown by node; none for a known pressure.
    unknown: Vec<Option<usize>>,
    ends: Vec<[usize; 2]>,
    slots: Vec<Slot>,
    factor: Factor,
    through: Vec<Through>,
    /// The same before the step that is being tried.
    before: Vec<Through>,
    /// Whether the flows are those of a balance that is worth beginning with.
    begun: bool,
    /// What each unknown node loses.
    loss: Vec<f64>,
    step: Vec<f64>,
    trial: Vec<f64>,
}

/// Part of the largest flow below which no node's imbalance matters.
const BALANCED: f64 = 1e-8;
/// A step below this part of the largest pressure is lost in its rounding: what it leaves is linear and is put right at once.
const ROUNDING: f64 = 1e-11;
const MOST_STEPS: u32 = 200;
/// After so many steps the search along each step becomes exact, with which Newton's method on a convex function must arrive.
const QUICK_STEPS: u32 = 20;

impl Solver {
    /// A network of nodes, some of known pressure, and of links between two nodes each.
    pub(crate) fn new(known: &[bool], ends: Vec<[usize; 2]>) -> Self {
        let mut count = 0;
        let unknown: Vec<Option<usize>> = known
            .iter()
            .map(|&known| {
                count += usize::from(!known);
                (!known).then(|| count - 1)
            })
            .collect();
        let numbered: Vec<_> = ends.iter().map(|ends| ends.map(|node| unknown[node])).collect();
        let factor = Factor::new(
            count,
            numbered.iter().filter_map(|ends| match *ends {
                [Some(one), Some(other)] => Some([one, other]),
                _ => None,
            }),
        );
        Self {
            slots: numbered.into_iter().map(|ends| factor.slot(ends)).collect(),
            through: vec![Through::default(); ends.len()],
            before: vec![Through::default(); ends.len()],
            begun: false,
            loss: vec![0.0; count],
            step: vec![0.0; count],
            trial: vec![0.0; unknown.len()],
            unknown,
            ends,
            factor,
        }
    }

    /// Flow and slope of each link, as the last solution left them.
    pub(crate) fn through(&self) -> &[Through] {
        &self.through
    }

    /// Lets every law begin anew.
    pub(crate) fn forget(&mut self) {
        self.begun = false;
    }

    /// Balances every unknown node, beginning with the pressures given; the solution takes their place.
    ///
    /// Newton's step d on the loss r(p), with J d = -r: taken whole unless the loss along it, r(p + d) d, shows that it went
    /// too far; then a false position on that one number shortens it. The last step is applied to the flows as well, so that
    /// they balance although a pressure of many bars cannot hold the drop of a short wide passage to the last digit.
    pub(crate) fn solve<L: Law>(&mut self, laws: &[L], pressures: &mut [f64]) -> Result<Balance, Error> {
        self.before.copy_from_slice(&self.through);
        let mut found = self.evaluate(laws, pressures, 0.0);
        self.begun = true;
        for steps in 1..=MOST_STEPS {
            if !found.worst.is_finite() || !self.newton() {
                break;
            }
            let most = pressures.iter().fold(0.0_f64, |most, pressure| most.max(pressure.abs()));
            let longest = self.step.iter().fold(0.0_f64, |longest, step| longest.max(step.abs()));
            if found.settled && (found.worst <= BALANCED * found.largest || longest <= ROUNDING * most) {
                return Ok(Balance { residual: self.finish(pressures), steps });
            }
            found = self.search(laws, pressures, steps > QUICK_STEPS);
        }
        Err(Error::NotConverged { what: "the balance of the network", residual: found.worst })
    }

    /// Flows, slopes and losses at some pressures, a share of the step away from the last ones.
    fn evaluate<L: Law>(&mut self, laws: &[L], pressures: &[f64], share: f64) -> State {
        self.loss.fill(0.0);
        let (mut largest, mut settled) = (0.0_f64, true);
        let links = laws.iter().zip(&self.ends).zip(self.through.iter_mut().zip(&self.before));
        for ((law, &[from, to]), (through, before)) in links {
            let [out_of, into] = [self.unknown[from], self.unknown[to]];
            let moved = |end: Option<usize>| end.map_or(0.0, |unknown| self.step[unknown]);
            let expected = self.begun.then(|| before.flow + before.slope * share * (moved(out_of) - moved(into)));
            *through = law.through(pressures[from] - pressures[to], expected);
            largest = largest.max(through.flow.abs());
            settled &= through.settled;
            if let Some(unknown) = out_of {
                self.loss[unknown] += through.flow;
            }
            if let Some(unknown) = into {
                self.loss[unknown] -= through.flow;
            }
        }
        State { worst: worst_of(&self.loss), largest, settled }
    }

    /// The full step; false when the matrix is singular.
    fn newton(&mut self) -> bool {
        self.factor.clear();
        for (through, &slot) in self.through.iter().zip(&self.slots) {
            self.factor.add(slot, through.slope);
        }
        if !self.factor.decompose() {
            return false;
        }
        for (step, loss) in self.step.iter_mut().zip(&self.loss) {
            *step = -loss;
        }
        self.factor.solve(&mut self.step);
        true
    }

    /// Goes along the step as far as the loss along it allows.
    fn search<L: Law>(&mut self, laws: &[L], pressures: &mut [f64], exact: bool) -> State {
        const MOST_TRIALS: u32 = 60;
        let before = self.along();
        self.before.copy_from_slice(&self.through);
        let most = if exact { 1e-3 } else { 0.9 } * before.abs();
        // Share of the step and loss along it, short of the balance and beyond it.
        let (mut short, mut beyond) = ([0.0, before], [1.0, 0.0]);
        let mut share = 1.0;
        let mut found = State { worst: f64::NAN, largest: 0.0, settled: false };
        for _ in 0..MOST_TRIALS {
            self.move_by(pressures, share);
            let trial = std::mem::take(&mut self.trial);
            found = self.evaluate(laws, &trial, share);
            self.trial = trial;
            let along = self.along();
            if along.abs() <= most || (share == 1.0 && along <= 0.0) {
                break;
            }
            // The end that stays counts half, or a bent curve would pin it (the Illinois form).
            if along > 0.0 {
                beyond = [share, along];
                short[1] *= 0.5;
            } else {
                short = [share, along];
                beyond[1] *= 0.5;
            }
            let width = beyond[0] - short[0];
            let part = short[1] / (short[1] - beyond[1]);
            // Rounding must not stop the search at one of its ends.
            share = short[0] + width * if part > 1e-6 && part < 1.0 - 1e-6 { part } else { 0.5 };
        }
        pressures.copy_from_slice(&self.trial);
        found
    }

    fn along(&self) -> f64 {
        self.loss.iter().zip(&self.step).map(|(loss, step)| loss * step).sum()
    }

    fn move_by(&mut self, pressures: &[f64], share: f64) {
        for ((trial, pressure), unknown) in self.trial.iter_mut().zip(pressures).zip(&self.unknown) {
            *trial = pressure + unknown.map_or(0.0, |unknown| share * self.step[unknown]);
        }
    }

    /// Applies the last steps to pressures and flows; gives what then is left at the worst node.
    fn finish(&mut self, pressures: &mut [f64]) -> f64 {
        for _ in 0..2 {
            self.move_by(pressures, 1.0);
            pressures.copy_from_slice(&self.trial);
            self.loss.fill(0.0);
            for (through, ends) in self.through.iter_mut().zip(&self.ends) {
                let [from, to] = ends.map(|node| self.unknown[node]);
                let moved = |end: Option<usize>| end.map_or(0.0, |unknown| self.step[unknown]);
                through.flow += through.slope * (moved(from) - moved(to));
                if let Some(unknown) = from {
                    self.loss[unknown] += through.flow;
                }
                if let Some(unknown) = to {
                    self.loss[unknown] -= through.flow;
                }
            }
            for (step, loss) in self.step.iter_mut().zip(&self.loss) {
                *step = -loss;
            }
            self.factor.solve(&mut self.step);
        }
        worst_of(&self.loss)
    }
}

fn worst_of(losses: &[f64]) -> f64 {
    // A NaN must not be lost: a plain maximum would pass it over.
    losses.iter().fold(0.0, |worst: f64, loss| if loss.abs() > worst || loss.is_nan() { loss.abs() } else { worst })
}
