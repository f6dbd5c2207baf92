//! Long work: off the workers, on no more threads at once than there are cores, and everybody in turn.
//!
//! Threads that calculate crowd out those that answer: with sixteen of them to a core, a refusal came a second late. So work waits
//! in a line for a place, and what takes longer than a turn goes back to the end of the line between two of its pieces: a
//! batch of minutes holds nobody up. More than can have its first turn in good time is turned away at once.

use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{LazyLock, Mutex, PoisonError};
use std::time::{Duration, Instant};

use actix_web::web;
use calc_core::stop::Stop;
use tokio::runtime::Handle;
use tokio::sync::{Semaphore, SemaphorePermit};

use crate::calculation::internal;
use crate::problem::Problem;

/// What has a place for this long goes back to the end of the line. Nearly every calculation ends before, and then holds no
/// memory while it waits.
const TURN: Duration = Duration::from_millis(100);

/// Who comes last must have a place after this time.
const GOOD_TIME: Duration = Duration::from_millis(500);

/// Most in the line for every core, however short they are; a turn may be longer than those before.
const MOST_PER_CORE: usize = 64;

/// Blocks of endless bodies under way for every core: they have a line of their own, so that short lines do not wait for long
/// work; a body has as many blocks under way as there are cores.
const BLOCKS_PER_CORE: usize = 64;

static CALCULATIONS: LazyLock<Line> = LazyLock::new(Line::new);
static BLOCKS: LazyLock<Line> = LazyLock::new(Line::new);

/// How many threads a worker may have for long work. One that waits for its next turn keeps its thread, and if there were none
/// left for the one whose turn it is, all would wait for ever.
pub(crate) fn most_threads() -> usize {
    cores() * (MOST_PER_CORE + BLOCKS_PER_CORE) + 1
}

fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// Does work that must not hold up the other connections of a worker. It ends early when nobody waits for its answer any more.
///
/// # Errors
/// Those of the work, and the refusal when too much is waiting.
pub(crate) async fn off_the_worker<T: Send + 'static>(
    work: impl FnOnce(&Stop) -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    let admitted = Admitted::to(&CALCULATIONS)?;
    let wanted = Wanted::default();
    let work = move |stop: &Stop| {
        // It counts until the work has ended, also when its client is gone.
        let _admitted = admitted;
        work(stop)
    };
    CALCULATIONS.in_turn(wanted.stop(), work).await.unwrap_or_else(|error| Err(internal(&error.to_string())))
}

/// Answers a block of an endless body; nothing when that fails.
///
/// It is a task of its own: a stream whose client does not read is not polled, and if its turn came meanwhile, it would keep the
/// place for ever.
pub(crate) async fn answer_block<T: Default + Send + 'static>(
    stop: Stop,
    work: impl FnOnce(&Stop) -> T + Send + 'static,
) -> T {
    let answer = actix_web::rt::spawn(BLOCKS.in_turn(stop, work)).await;
    answer.ok().and_then(Result::ok).unwrap_or_default()
}

/// Lives as long as somebody waits: with the future of a response whose client hung up it is dropped, and work that holds its
/// flag ends.
#[derive(Default)]
pub(crate) struct Wanted(Stop);

impl Wanted {
    /// The flag for the work.
    pub(crate) fn stop(&self) -> Stop {
        self.0.clone()
    }
}

impl Drop for Wanted {
    fn drop(&mut self) {
        self.0.set();
    }
}

/// A place for every core, and who waits for one.
struct Line {
    places: Semaphore,
    /// Work that has a place or waits for one.
    inside: AtomicUsize,
    /// What turns have taken of late, in microseconds.
    usual: AtomicU64,
}

impl Line {
    fn new() -> Self {
        // Before anything is known: as if sixteen turns were good time.
        let usual = AtomicU64::new(micros(GOOD_TIME) / 16);
        Self { places: Semaphore::new(cores()), inside: AtomicUsize::new(0), usual }
    }

    /// How many may be inside so that the last of them has its first turn in good time.
    fn most(&self) -> usize {
        let turns = micros(GOOD_TIME) / self.usual.load(Ordering::Relaxed).max(1);
        cores() * usize::try_from(turns).unwrap_or(usize::MAX).clamp(1, MOST_PER_CORE)
    }

    /// A turn has taken this long. Two at once may forget one of them, which is no harm.
    fn took(&self, turn: Duration) {
        let usual = self.usual.load(Ordering::Relaxed);
        self.usual.store((7 * usual + micros(turn)) / 8, Ordering::Relaxed);
    }

    /// Does work on a thread of its own once there is a place. Whoever is dropped while it waits leaves the line.
    async fn in_turn<T: Send + 'static>(
        &'static self,
        stop: Stop,
        work: impl FnOnce(&Stop) -> T + Send + 'static,
    ) -> Result<T, actix_web::error::BlockingError> {
        let permit = self.places.acquire().await.ok();
        let runtime = Handle::current();
        web::block(move || {
            let place = Place { line: self, runtime, held: Mutex::new(Held { permit, since: Instant::now() }) };
            work(&stop.pausing(move || place.let_others()))
        })
        .await
    }
}

fn micros(time: Duration) -> u64 {
    u64::try_from(time.as_micros()).unwrap_or(u64::MAX)
}

/// Work that is let into a line; it is out when dropped.
struct Admitted(&'static Line);

impl Admitted {
    fn to(line: &'static Line) -> Result<Self, Problem> {
        let before = line.inside.fetch_add(1, Ordering::Relaxed);
        let admitted = Self(line);
        if before < line.most() {
            return Ok(admitted);
        }
        let full = Problem::overloaded("As much long work is waiting as can be done in good time.");
        Err(full.keeping_the_connection())
    }
}

impl Drop for Admitted {
    fn drop(&mut self) {
        self.0.inside.fetch_sub(1, Ordering::Relaxed);
    }
}

/// The place of some work, which may itself use several threads: when its turn is over, all of them wait at the lock.
struct Place {
    line: &'static Line,
    runtime: Handle,
    held: Mutex<Held>,
}

struct Held {
    permit: Option<SemaphorePermit<'static>>,
    since: Instant,
}

impl Place {
    /// Goes back to the end of the line when its turn is over, and waits for the next.
    fn let_others(&self) {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        let turn = held.since.elapsed();
        if turn < TURN {
            return;
        }
        self.line.took(turn);
        held.permit = None;
        held.permit = self.runtime.block_on(self.line.places.acquire()).ok();
        held.since = Instant::now();
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let held = self.held.get_mut().unwrap_or_else(PoisonError::into_inner);
        self.line.took(held.since.elapsed());
    }
}
