//! A bound on the memory that callers can make the service hold: bodies that are not complete yet, and answers that are not
//! sent yet. What goes beyond it is turned away with 503 before it is kept.
//!
//! Most requests never come here: a body that is there at once and a small answer are not counted.

use std::convert::Infallible;
use std::pin::Pin;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::task::{Context, Poll};

use actix_web::body::{BodySize, MessageBody};
use actix_web::web::Bytes;

use crate::problem::{self, Problem};

const MEBIBYTE: usize = 1024 * 1024;

/// What an answer may have without being counted; the pieces in which a larger one is sent.
pub(crate) const PIECE: usize = 64 * 1024;

static BOUND: AtomicUsize = AtomicUsize::new(DEFAULT_MEBIBYTES as usize * MEBIBYTE);
static HELD: AtomicUsize = AtomicUsize::new(0);

/// The bound unless another is configured.
pub(crate) const DEFAULT_MEBIBYTES: u16 = 64;

/// Sets the bound, before anything is held.
pub(crate) fn set_bound(mebibytes: u16) {
    BOUND.store(usize::from(mebibytes) * MEBIBYTE, Ordering::Relaxed);
}

/// A share of the bound; given back when dropped.
#[derive(Debug, Default)]
pub(crate) struct Held(usize);

impl Held {
    /// Holds this many bytes from now on, if that is more than before.
    ///
    /// # Errors
    /// When the bound would be exceeded; what was held before stays held.
    pub(crate) fn grow(&mut self, bytes: usize) -> Result<(), Problem> {
        let more = bytes.saturating_sub(self.0);
        let bound = BOUND.load(Ordering::Relaxed);
        if self.0 + more > bound {
            let detail = format!(
                "It takes more than the {} MiB that this service sets aside for bodies and answers (body-memory). Send \
                 less at once, or lines to a stream.",
                bound / MEBIBYTE
            );
            return Err(Problem::new(problem::BODY_TOO_LARGE, detail));
        }
        let fits = |held: usize| held.checked_add(more).filter(|sum| *sum <= bound);
        if HELD.fetch_update(Ordering::Relaxed, Ordering::Relaxed, fits).is_err() {
            return Err(Problem::overloaded(
                "Other requests fill the memory that is set aside for bodies and answers.",
            ));
        }
        self.0 += more;
        Ok(())
    }
}

impl Drop for Held {
    fn drop(&mut self) {
        HELD.fetch_sub(self.0, Ordering::Relaxed);
    }
}

/// A whole answer, sent in pieces: the server copies what it is given, and would hold a large answer twice.
pub(crate) struct InPieces {
    rest: Bytes,
    _held: Held,
}

impl InPieces {
    /// An answer whose bytes are counted until the last of them is on its way.
    ///
    /// # Errors
    /// When the bound would be exceeded.
    pub(crate) fn new(answer: Vec<u8>, mut held: Held) -> Result<Self, Problem> {
        if answer.len() > PIECE {
            held.grow(answer.len())?;
        }
        Ok(Self { rest: answer.into(), _held: held })
    }
}

impl MessageBody for InPieces {
    type Error = Infallible;

    fn size(&self) -> BodySize {
        BodySize::Sized(self.rest.len() as u64)
    }

    fn poll_next(mut self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<Option<Result<Bytes, Infallible>>> {
        if self.rest.is_empty() {
            return Poll::Ready(None);
        }
        let length = self.rest.len().min(PIECE);
        Poll::Ready(Some(Ok(self.rest.split_to(length))))
    }

    fn try_into_bytes(self) -> Result<Bytes, Self> {
        // A small answer takes the server's short way.
        if self.rest.len() <= PIECE { Ok(self.rest) } else { Err(self) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_held_is_given_back_and_the_bound_holds() {
        // One test, since the count is the whole process's.
        let bound = BOUND.load(Ordering::Relaxed);
        let mut first = Held::default();
        first.grow(bound / 2).expect("there is room");
        first.grow(bound / 4).expect("less than before asks for nothing");
        let mut second = Held::default();
        assert_eq!(second.grow(bound).expect_err("there is none").kind().status, 503);
        assert_eq!(second.grow(bound + 1).expect_err("there never will be").kind().status, 413);
        second.grow(bound / 2).expect("the other half");
        drop(first);
        second.grow(bound).expect("all of it");
        drop(second);
        assert_eq!(HELD.load(Ordering::Relaxed), 0);
    }
}
