//! How long work learns that nobody waits for its answer any more, and how it tells how far it is.

use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use crate::error::Error;

/// A flag that the caller may set from elsewhere; long work looks at it between two pieces of a millisecond or less, and may
/// be held there while others have their turn.
///
/// Clones are the same flag. It never changes a result: work that is stopped has none.
#[derive(Debug, Clone, Default)]
pub struct Stop {
    flag: Arc<AtomicBool>,
    told: Option<(u32, Progress)>,
    pause: Option<Pause>,
}

/// What is done between two pieces of work.
#[derive(Clone)]
struct Pause(Arc<dyn Fn() + Send + Sync>);

impl fmt::Debug for Pause {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("Pause")
    }
}

/// What work has told of itself last; clones are the same. Whoever wants to know looks, nobody waits for it.
#[derive(Debug, Clone, Default)]
pub struct Progress(Arc<AtomicU64>);

/// Parts into which a share is divided on its way.
const PARTS: f64 = 10_000.0;

impl Progress {
    /// What was told since it was last taken: the number of the piece of work, and which share of it is done.
    #[must_use]
    pub fn take(&self) -> Option<(u32, f64)> {
        let told = self.0.swap(0, Ordering::Relaxed);
        (told != 0).then(|| ((told >> 32) as u32, f64::from(told as u32) / PARTS))
    }
}

impl Stop {
    /// A flag that nobody else holds: the work runs to its end.
    #[must_use]
    pub fn never() -> Self {
        Self::default()
    }

    /// Asks for the work to end.
    pub fn set(&self) {
        self.flag.store(true, Ordering::Relaxed);
    }

    /// Whether the work is to end.
    #[must_use]
    pub fn is_set(&self) -> bool {
        self.flag.load(Ordering::Relaxed)
    }

    /// For the head of a loop: lets others have their turn, and goes on unless the work is to end.
    ///
    /// # Errors
    /// [`Error::Stopped`] once the flag is set.
    pub fn check(&self) -> Result<(), Error> {
        self.pause();
        if self.is_set() { Err(Error::Stopped) } else { Ok(()) }
    }

    /// The same flag for work that does this between its pieces, on whatever thread they are: it may wait there for its turn.
    #[must_use]
    pub fn pausing(&self, pause: impl Fn() + Send + Sync + 'static) -> Self {
        Self { pause: Some(Pause(Arc::new(pause))), ..self.clone() }
    }

    /// Between two pieces of work: lets others have their turn.
    pub fn pause(&self) {
        if let Some(Pause(pause)) = &self.pause {
            pause();
        }
    }

    /// The same flag for a numbered piece of work whose progress somebody wants to see.
    #[must_use]
    pub fn telling(&self, piece: u32, progress: &Progress) -> Self {
        Self { told: Some((piece, progress.clone())), ..self.clone() }
    }

    /// Tells which share of the work is done, from 0 to 1; nothing happens when nobody wants to see it.
    pub fn tell(&self, share: f64) {
        if let Some((piece, progress)) = &self.told {
            progress.0.store(u64::from(*piece) << 32 | (share * PARTS) as u64, Ordering::Relaxed);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clone_is_the_same_flag() {
        let (mine, theirs) = (Stop::never(), Stop::never());
        let work = mine.clone();
        assert_eq!(work.check(), Ok(()));
        mine.set();
        assert_eq!(work.check(), Err(Error::Stopped));
        assert!(!theirs.is_set());
    }

    #[test]
    fn work_pauses_wherever_it_looks_and_stays_the_same() {
        let (stop, pauses) = (Stop::never(), Progress::default());
        let count = pauses.clone();
        let work = stop.pausing(move || _ = count.0.fetch_add(1, Ordering::Relaxed)).telling(1, &Progress::default());
        assert_eq!(work.check(), Ok(()));
        work.pause();
        stop.set();
        assert_eq!(work.check(), Err(Error::Stopped));
        assert_eq!(pauses.0.load(Ordering::Relaxed), 3);
    }

    #[test]
    fn what_is_told_is_taken_once() {
        let (stop, progress) = (Stop::never(), Progress::default());
        stop.tell(0.5);
        assert_eq!(progress.take(), None);
        let work = stop.telling(7, &progress);
        work.tell(0.25);
        work.tell(0.5);
        assert_eq!(progress.take(), Some((7, 0.5)));
        assert_eq!(progress.take(), None);
        stop.set();
        assert!(work.is_set());
    }
}
