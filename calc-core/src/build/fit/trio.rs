//! Crankshaft, rod and piston chosen: counting the gaskets and heads that go with them, and looking at those that may be among
//! the best.

use std::ops::Range;

use crate::error::Error;

use super::assemble::assemble;
use super::limits::first_broken;
use super::pools::Piston;
use super::question::Criterion;
use super::rank::{Floor, Rank, least, measure};
use super::search::{EVALUATION, Pair, Piece};
use super::settle::{Bounds, Gasket, Settled, Train};

/// A crankshaft, rod and piston before any cut: SI units.
struct Trio<'a> {
    pair: Pair<'a>,
    train: &'a Train,
    piston: &'a Piston,
    /// Deck clearance.
    clearance: f64,
    /// Volume above the piston without gasket and chamber.
    above: f64,
    /// The gaskets that the squish allows.
    gaskets: Range<usize>,
}

impl Piece<'_> {
    /// The pistons that the deck clearance allows, by rising compression height.
    pub(super) fn trios(&mut self, pair: Pair<'_>, train: &Train, pistons: &[Piston]) -> Result<(), Error> {
        let (frame, gaskets) = (&self.task.frame, &self.task.pools.gaskets);
        let (mut from, mut to) = (0, 0);
        let covers = (gaskets.len() * self.task.pools.heads.len()) as u64;
        let mut rejected_by_squish = 0_u128;
        for piston in pistons {
            self.work += 1;
            let clearance = frame.deck_height - train.pin - piston.crown;
            // The less clearance, the thicker the gasket may be and must be: both ends only move up.
            let [thin, thick] = frame.thicknesses(clearance);
            while from < gaskets.len() && gaskets[from].thickness < thin {
                from += 1;
            }
            to = to.max(from);
            while to < gaskets.len() && gaskets[to].thickness <= thick {
                to += 1;
            }
            let within = if from < to && gaskets[from].thickness <= thick { from..to } else { from..from };
            let here = (within.len() * self.task.pools.heads.len()) as u64;
            rejected_by_squish += u128::from(covers - here);
            if here > 0 {
                let above = piston.volume + frame.area * clearance;
                self.trio(&Trio { pair, train, piston, clearance, above, gaskets: within }, here)?;
            }
        }
        self.found.rejected[self.stages.squish] += rejected_by_squish * pair.bearings.len() as u128;
        Ok(())
    }

    fn trio(&mut self, trio: &Trio<'_>, covers: u64) -> Result<(), Error> {
        let bearings = trio.pair.bearings.len() as u128;
        let mut before = covers;
        for place in 0..self.bounds.len() {
            let bounds = self.bounds[place];
            let left = if place == 0 && self.is_roomy(trio, &bounds) { before } else { self.count(trio, &bounds) };
            self.found.rejected[self.stages.volume + place] += u128::from(before.saturating_sub(left)) * bearings;
            before = left;
        }
        if before == 0 {
            return Ok(());
        }
        if !self.task.limits.evaluated.is_empty() {
            return self.expand(trio);
        }
        self.found.fitting += u128::from(before) * bearings;
        if self.admits(trio, &self.floor(trio), 0) { self.expand(trio) } else { Ok(()) }
    }

    /// Whether even the smallest gasket and chamber leave more than the least volume after the most cut.
    fn is_roomy(&self, trio: &Trio<'_>, bounds: &Bounds) -> bool {
        trio.above - self.task.frame.area * self.task.frame.deck_cut[1] + self.task.least.volume > bounds.low
    }

    /// How many of the gaskets with how many heads bring the clearance volume within bounds.
    fn count(&mut self, trio: &Trio<'_>, bounds: &Bounds) -> u64 {
        if bounds.low > bounds.high {
            return 0;
        }
        let (frame, pools) = (&self.task.frame, &self.task.pools);
        if let Some([small, large]) = &self.task.sums {
            let above = trio.above - frame.area * frame.deck_cut[0];
            let low = if bounds.low > f64::NEG_INFINITY { large.below(bounds.low - above) } else { 0 };
            let up_to = small.count(&trio.gaskets, small.up_to(bounds.high - above));
            return up_to.saturating_sub(large.count(&trio.gaskets, low));
        }
        self.work += trio.gaskets.len() as u64;
        let of = |gasket: &Gasket| {
            let [least, most] = frame.deck_cuts(trio.clearance, gasket.thickness);
            let rest = trio.above + gasket.volume;
            let up_to = pools.heads.partition_point(|head| head.small <= bounds.high - rest + frame.area * most);
            let below = self.task.larges.partition_point(|large| *large < bounds.low - rest + frame.area * least);
            up_to.saturating_sub(below) as u64
        };
        pools.gaskets[trio.gaskets.clone()].iter().map(of).sum()
    }

    /// Whether a group of the trio's combinations with this floor may hold one of the best.
    fn admits(&self, trio: &Trio<'_>, floor: &Floor, gasket: u32) -> bool {
        let parts = [trio.pair.crank.index, trio.pair.rod.index, trio.piston.index, gasket, 0, 0];
        self.found.best.admits(&Rank { criteria: least(self.task.preference, floor), parts })
    }

    fn price(&self, trio: &Trio<'_>) -> i64 {
        let bearings = trio.pair.bearings.first().map_or(0, |bearing| bearing.price);
        trio.pair.crank.price + trio.pair.rod.price + trio.piston.price + bearings
    }

    fn floor(&self, trio: &Trio<'_>) -> Floor {
        let (frame, gaskets) = (&self.task.frame, &self.task.pools.gaskets[trio.gaskets.clone()]);
        let (first, last) =
            (gaskets.first().map_or(0.0, |one| one.thickness), gaskets.last().map_or(0.0, |one| one.thickness));
        let [least, most] = frame.deck_cut;
        let squish = [trio.clearance + first - most, trio.clearance + last - least];
        let ratio = match (&self.task.sums, self.wanted_ratio()) {
            (Some([_, large]), Some(wanted)) => {
                let above = trio.above - frame.area * least;
                nearest(trio.train, wanted, above, |volume| large.beside(large.below(volume)))
            }
            _ => 0.0,
        };
        Floor {
            price: self.price(trio) + self.task.least.gasket + self.task.least.head,
            ratio,
            squish,
            deck_cut: frame.deck_cuts(trio.clearance, first)[0],
            head_cut: frame.head_cut[0],
        }
    }

    fn wanted_ratio(&self) -> Option<f64> {
        self.task.preference.iter().find_map(|criterion| match criterion {
            Criterion::StaticRatio { wanted, .. } => Some(wanted.plain()),
            _ => None,
        })
    }

    /// Looks at the trio's combinations one by one, but for gaskets that cannot bring one of the best.
    fn expand(&mut self, trio: &Trio<'_>) -> Result<(), Error> {
        let task = self.task;
        for gasket in &task.pools.gaskets[trio.gaskets.clone()] {
            if task.limits.evaluated.is_empty() && !self.admits(trio, &self.floor_with(trio, gasket), gasket.index) {
                continue;
            }
            for head in &task.pools.heads {
                self.work += 1;
                if let Some(settled) = task.frame.settle(trio.train, trio.clearance, trio.above, gasket, head) {
                    self.combination(trio, gasket, head.index, head.price, &settled)?;
                }
            }
            self.settle_account()?;
        }
        Ok(())
    }

    fn floor_with(&self, trio: &Trio<'_>, gasket: &Gasket) -> Floor {
        let frame = &self.task.frame;
        let [low, high] = frame.deck_cuts(trio.clearance, gasket.thickness);
        let squish = trio.clearance + gasket.thickness;
        let larges = &self.task.larges;
        let ratio = self.wanted_ratio().map_or(0.0, |wanted| {
            let above = trio.above + gasket.volume - frame.area * low;
            nearest(trio.train, wanted, above, |volume| {
                let rank = larges.partition_point(|large| *large < volume);
                [rank.checked_sub(1).map(|before| larges[before]), larges.get(rank).copied()]
            })
        });
        Floor {
            price: self.price(trio) + gasket.price + self.task.least.head,
            ratio,
            squish: [squish - high, squish - low],
            deck_cut: low,
            head_cut: frame.head_cut[0],
        }
    }

    /// One combination within the limits in closed form, with each of the bearings that match.
    fn combination(
        &mut self,
        trio: &Trio<'_>,
        gasket: &Gasket,
        head: u32,
        head_price: i64,
        settled: &Settled,
    ) -> Result<(), Error> {
        let Trio { pair, piston, .. } = trio;
        let of = |bearing| [pair.crank.index, pair.rod.index, piston.index, gasket.index, head, bearing];
        let evaluated = &self.task.limits.evaluated;
        if !evaluated.is_empty() {
            self.work += EVALUATION;
            let build = assemble(self.task, of(0), settled);
            if let Some(limit) = first_broken(evaluated, &build)? {
                self.found.rejected[self.stages.evaluated + limit] += pair.bearings.len() as u128;
                return Ok(());
            }
            self.found.fitting += pair.bearings.len() as u128;
        }
        let price = pair.crank.price + pair.rod.price + piston.price + gasket.price + head_price;
        for bearing in pair.bearings {
            let rank = Rank {
                criteria: measure(self.task.preference, settled, price + bearing.price),
                parts: of(bearing.index),
            };
            // The others of the pool are no cheaper, and later in the catalogue where they cost the same.
            if !self.found.best.admits(&rank) {
                break;
            }
            self.found.best.offer(rank);
        }
        Ok(())
    }
}

/// The least distance from a wanted ratio of combinations whose volumes before any more cutting are `above` and a sum each;
/// `beside` gives the sums on both sides of a volume.
fn nearest(train: &Train, wanted: f64, above: f64, beside: impl Fn(f64) -> [Option<f64>; 2]) -> f64 {
    let distance = |volume: f64| (1.0 + train.swept / volume - wanted).abs();
    let ideal = if wanted > 1.0 { train.swept / (wanted - 1.0) } else { f64::INFINITY };
    if ideal > train.volume.high {
        return distance(train.volume.high);
    }
    let sides = beside(ideal - above).into_iter().flatten().map(|sum| above + sum).filter(|volume| *volume > 0.0);
    // A volume above its limit is cut down to it.
    let cut = sides.map(|volume| if volume > train.volume.high { train.volume.target } else { volume });
    cut.map(distance).fold(f64::INFINITY, f64::min)
}
