//! How long work learns that nobody waits for its answer any more.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::error::Error;

/// A flag that the caller may set from elsewhere; long work looks at it between two pieces of a millisecond or less.
///
/// Clones are the same flag. It never changes a result: work that is stopped has none.
#[derive(Debug, Clone, Default)]
pub struct Stop(Arc<AtomicBool>);

impl Stop {
    /// A flag that nobody else holds: the work runs to its end.
    #[must_use]
    pub fn never() -> Self {
        Self::default()
    }

    /// Asks for the work to end.
    pub fn set(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether the work is to end.
    #[must_use]
    pub fn is_set(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }

    /// For the head of a loop: goes on unless the work is to end.
    ///
    /// # Errors
    /// [`Error::Stopped`] once the flag is set.
    pub fn check(&self) -> Result<(), Error> {
        if self.is_set() { Err(Error::Stopped) } else { Ok(()) }
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
}
