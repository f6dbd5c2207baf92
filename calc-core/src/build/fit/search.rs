//! The search: every crankshaft with every rod that matches, the pistons that the deck clearance allows, the gaskets that the
//! squish allows, and the heads that the ratio allows. What is rejected is counted without being looked at.

use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};

use crate::error::{Error, broken_rule};
use crate::geometry::slider_crank::clears_crank;
use crate::stop::Stop;
use crate::units::{Length, Quantity};

use super::catalogue::{FitBase, SLOTS};
use super::limits::{Limits, first_broken, specimen};
use super::merge::Candidates;
use super::pools::{Bar, Bearing, PistonPool, Pools};
use super::question::Criterion;
use super::rank::Best;
use super::settle::{Bounds, Frame, Train};
use super::sums::Sums;

/// What a search may cost: in pairs of crankshaft and rod, and in trios with a piston that the deck clearance allows. One takes
/// some tens of nanoseconds, so that this many are done in some ten seconds.
pub const MOST_WORK: u64 = 300_000_000;

/// The work is cut into this many pieces whatever the number of threads, so that the answer does not depend on it.
const PIECES: usize = 8;

/// Below this many steps, more than one thread costs more than it brings.
const WORTH_A_THREAD: u128 = 50_000;

/// How a search is run; none of it changes the answer.
pub struct Running<'a> {
    /// Ends the search when nobody waits for it, and is told which share is done.
    pub stop: &'a Stop,
    /// How many threads may work at once.
    pub threads: usize,
}

/// Everything that the pieces share.
pub(super) struct Task<'a> {
    pub(super) base: &'a FitBase,
    /// Where each slot's list stands in the caller's request.
    pub(super) places: [&'static str; 6],
    pub(super) candidates: &'a Candidates,
    pub(super) frame: Frame,
    pub(super) limits: &'a Limits,
    pub(super) pools: &'a Pools,
    pub(super) preference: &'a [Criterion],
    pub(super) wanted: usize,
    /// The volumes of gasket and smallest or largest chamber, when every combination gets the same deck cut.
    pub(super) sums: Option<[Sums; 2]>,
    /// The chambers after the least cut, in order.
    pub(super) larges: Vec<f64>,
    pub(super) least: Least,
}

/// The lowest prices and the smallest volume of what a trio still needs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Least {
    pub(super) gasket: i64,
    pub(super) head: i64,
    pub(super) volume: f64,
}

/// What one piece found, or all of them.
#[derive(Debug, Clone)]
pub(super) struct Found {
    /// Combinations rejected by each stage: see [`Stages`].
    pub(super) rejected: Vec<u128>,
    pub(super) fitting: u128,
    pub(super) best: Best,
}

/// The places of the stages in [`Found::rejected`], in the order in which they are checked.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stages {
    pub(super) clearance: usize,
    pub(super) squish: usize,
    pub(super) volume: usize,
    pub(super) evaluated: usize,
    pub(super) count: usize,
}

impl Stages {
    /// The rod comes first, then the limits of the train.
    pub(super) fn of(limits: &Limits) -> Self {
        let clearance = 1 + limits.train.len();
        let evaluated = clearance + 3 + limits.volume_limits();
        let count = evaluated + limits.evaluated.len();
        Self { clearance, squish: clearance + 1, volume: clearance + 2, evaluated, count }
    }
}

/// One piece of the search at work.
pub(super) struct Piece<'a> {
    pub(super) task: &'a Task<'a>,
    pub(super) stages: Stages,
    pub(super) found: Found,
    pub(super) stop: &'a Stop,
    /// Done since it was last added to the common account.
    pub(super) work: u64,
    /// Where the highest ratio and then each limit want the clearance volume, for the present crankshaft, rod and offset.
    pub(super) bounds: Vec<Bounds>,
    account: &'a AtomicU64,
}

/// A crankshaft, a rod and the bearings that match both.
#[derive(Clone, Copy)]
pub(super) struct Pair<'a> {
    pub(super) crank: &'a Bar,
    pub(super) rod: &'a Bar,
    pub(super) bearings: &'a [Bearing],
}

pub(super) fn search(task: &Task<'_>, running: &Running<'_>) -> Result<Found, Error> {
    let trios = expected(task);
    if pairs(task) > u128::from(MOST_WORK) || (is_unlimited(task) && trios > u128::from(MOST_WORK)) {
        return Err(too_much_work(task));
    }
    let (account, next, cranks_done) = (AtomicU64::new(0), AtomicUsize::new(0), AtomicUsize::new(0));
    let all_cranks: usize =
        task.pools.blocks.iter().map(|block| task.pools.cranks[block.cranks].cranks.len()).sum::<usize>() * PIECES;
    let progress = || {
        let done = cranks_done.fetch_add(1, Ordering::Relaxed) + 1;
        running.stop.tell(done as f64 / all_cranks as f64);
    };
    let work = || {
        let mut outcomes = Vec::new();
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= PIECES {
                return outcomes;
            }
            outcomes.push((number, Piece::new(task, running.stop, &account).run(number, &progress)));
        }
    };
    let threads = if trios < WORTH_A_THREAD { 1 } else { running.threads.clamp(1, PIECES) };
    let mut outcomes = std::thread::scope(|scope| {
        let others: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
        let mut outcomes = work();
        for other in others {
            outcomes.extend(other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        }
        outcomes
    });
    outcomes.sort_by_key(|(number, _)| *number);
    let mut all = Found::nothing(task);
    for (_, outcome) in outcomes {
        all.add(&outcome?);
    }
    Ok(all)
}

/// Pairs of crankshaft and rod.
fn pairs(task: &Task<'_>) -> u128 {
    let pools = task.pools;
    let of = |block: &super::pools::Block| {
        pools.cranks[block.cranks].cranks.len() as u128 * pools.rods[block.rods].rods.len() as u128
    };
    pools.blocks.iter().map(of).sum()
}

/// Whether nothing keeps pistons out of the trios.
fn is_unlimited(task: &Task<'_>) -> bool {
    task.limits.clearance.is_none() && task.limits.squish.is_none()
}

/// About how many trios there are before the deck clearance is looked at.
fn expected(task: &Task<'_>) -> u128 {
    let pools = task.pools;
    let of = |block: &super::pools::Block| {
        let rods = &pools.rods[block.rods];
        let pistons: usize = rods.pistons.iter().map(|pool| pools.pistons[*pool].pistons.len()).sum();
        pools.cranks[block.cranks].cranks.len() as u128 * rods.rods.len() as u128 * pistons as u128
    };
    pools.blocks.iter().map(of).sum()
}

impl Found {
    fn nothing(task: &Task<'_>) -> Self {
        let rejected = vec![0; Stages::of(task.limits).count];
        Self { rejected, fitting: 0, best: Best::of(task.wanted) }
    }

    fn add(&mut self, other: &Self) {
        self.rejected.iter_mut().zip(&other.rejected).for_each(|(mine, theirs)| *mine += theirs);
        self.fitting += other.fitting;
        self.best.merge(&other.best);
    }
}

impl<'a> Piece<'a> {
    fn new(task: &'a Task<'a>, stop: &'a Stop, account: &'a AtomicU64) -> Self {
        let stages = Stages::of(task.limits);
        Self { task, stages, found: Found::nothing(task), stop, work: 0, bounds: Vec::new(), account }
    }

    fn run(mut self, number: usize, progress: &impl Fn()) -> Result<Found, Error> {
        let pools = self.task.pools;
        for block in &pools.blocks {
            let (cranks, rods) = (&pools.cranks[block.cranks].cranks, &pools.rods[block.rods]);
            for (place, crank) in cranks.iter().enumerate() {
                let first = (number + PIECES - place % PIECES) % PIECES;
                for rod in rods.rods.iter().skip(first).step_by(PIECES) {
                    let pair = Pair { crank, rod, bearings: &pools.bearings[block.bearings] };
                    for pool in &rods.pistons {
                        self.pool(pair, &pools.pistons[*pool])?;
                    }
                    self.settle_account()?;
                }
                progress();
            }
        }
        Ok(self.found)
    }

    /// Ends the search when nobody waits for it or when it costs too much.
    pub(super) fn settle_account(&mut self) -> Result<(), Error> {
        self.stop.check()?;
        let work = std::mem::take(&mut self.work) + 1;
        if self.account.fetch_add(work, Ordering::Relaxed) > MOST_WORK {
            return Err(too_much_work(self.task));
        }
        Ok(())
    }

    /// One crankshaft and rod with all pistons of one pin and offset.
    fn pool(&mut self, pair: Pair<'_>, pool: &PistonPool) -> Result<(), Error> {
        self.work += 1;
        let task = self.task;
        let pistons = &pool.pistons;
        let each = (task.pools.gaskets.len() * task.pools.heads.len()) as u128 * pair.bearings.len() as u128;
        if let Some(stage) = self.broken_train(pair, pool.offset)? {
            self.found.rejected[stage] += pistons.len() as u128 * each;
            return Ok(());
        }
        let (stroke, rod) = (pair.crank.length, pair.rod.length);
        let train = Train::bounded(stroke, rod, pool.offset, task.limits, &task.frame, &mut self.bounds);
        let [low, high] = task.frame.crowns(train.pin);
        let (from, to) =
            (pistons.partition_point(|one| one.crown < low), pistons.partition_point(|one| one.crown <= high));
        let to = to.max(from);
        self.found.rejected[self.stages.clearance] += (pistons.len() - (to - from)) as u128 * each;
        self.trios(pair, &train, &pistons[from..to])
    }

    /// The first rule or limit of crankshaft, rod and offset that is broken.
    fn broken_train(&mut self, pair: Pair<'_>, offset: f64) -> Result<Option<usize>, Error> {
        let [stroke, rod, offset] = [pair.crank.length, pair.rod.length, offset].map(Length::from_si);
        if !clears_crank(stroke, rod, offset) {
            return Ok(Some(0));
        }
        if self.task.limits.train.is_empty() {
            return Ok(None);
        }
        self.work += EVALUATION;
        let broken = first_broken(&self.task.limits.train, &specimen(self.task.base, stroke, rod, offset))?;
        Ok(broken.map(|limit| 1 + limit))
    }
}

/// What an evaluation of a whole build costs, in steps of the search.
pub(super) const EVALUATION: u64 = 50;

fn too_much_work(task: &Task<'_>) -> Error {
    let candidates = task.candidates;
    let sizes = [
        candidates.cranks.len(),
        candidates.rods.len(),
        candidates.pistons.len(),
        candidates.gaskets.len(),
        candidates.heads.len(),
        candidates.bearings.len(),
    ];
    let (place, size) = sizes.into_iter().enumerate().max_by_key(|(_, size)| *size).unwrap_or_default();
    let mut detail = format!(
        "makes the search too large: it would take more than {MOST_WORK} steps (a pair of crankshaft and rod, a piston within \
         their deck clearance, or an evaluation, which counts {EVALUATION}). Narrow {}, which has {size} candidates, state the \
         sizes that must match",
        SLOTS[place]
    );
    detail.push_str(match (&task.limits.clearance, &task.limits.squish) {
        (None, _) => ", or limit geometry/deck_clearance.",
        (_, None) => ", or limit geometry/squish_clearance.",
        _ => ", or bring the limits on deck and squish clearance closer together.",
    });
    Error::of_rules([broken_rule(&format!("{}/{}", task.places[place], SLOTS[place]), "too_much_work", detail)])
}
