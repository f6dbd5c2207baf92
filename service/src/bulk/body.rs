//! The body of a request as blocks of whole lines, and the places that endless bodies take.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use actix_web::error::PayloadError;
use actix_web::web::Bytes;
use futures_util::{FutureExt, Stream, StreamExt, stream};

use super::cut::{Block, Cutter, Ends};
use crate::problem::{self, Problem};

/// A block is answered once it has this many bytes, or once nothing more is there.
pub(crate) const BLOCK: usize = 64 * 1024;
/// A body that sends nothing for this long is given up.
const SILENCE: Duration = Duration::from_secs(30);
/// Most endless bodies at once.
const MOST: usize = 64;

static RUNNING: AtomicUsize = AtomicUsize::new(0);

/// One of the places for endless bodies; given back when dropped.
pub(crate) struct Place(());

impl Place {
    /// Takes a place.
    ///
    /// # Errors
    /// When all are taken.
    pub(crate) fn take() -> Result<Self, Problem> {
        let running = RUNNING.fetch_add(1, Ordering::Relaxed);
        let place = Self(());
        if running < MOST {
            return Ok(place);
        }
        Err(Problem::overloaded(format!("{MOST} streams are running; try again in a moment.")))
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        RUNNING.fetch_sub(1, Ordering::Relaxed);
    }
}

/// A part of a body.
#[derive(Default)]
pub(crate) struct Part {
    pub(crate) block: Block,
    /// Whether it is the last, and why when the body did not end whole.
    pub(crate) end: Option<Result<(), Problem>>,
}

/// A body as blocks of whole lines.
pub(crate) fn parts<S, E>(body: S, cutter: Cutter<E>) -> impl Stream<Item = Part>
where
    S: Stream<Item = Result<Bytes, PayloadError>> + Unpin,
    E: Ends,
{
    stream::unfold(Some((body, cutter)), |state| async move {
        let (mut body, mut cutter) = state?;
        let end = gather(&mut body, &mut cutter).await;
        let rest = end.is_none();
        let part = Part { block: cutter.take(), end };
        Some((part, rest.then_some((body, cutter))))
    })
}

/// Reads until a block is there; how the body ended if it did.
async fn gather<S, E>(body: &mut S, cutter: &mut Cutter<E>) -> Option<Result<(), Problem>>
where
    S: Stream<Item = Result<Bytes, PayloadError>> + Unpin,
    E: Ends,
{
    while cutter.len() < BLOCK {
        // What is there already is taken at once; a clock costs more than that.
        let next = match body.next().now_or_never() {
            Some(next) => Ok(next),
            // A client may wait for the answer to its last line.
            None if cutter.len() > 0 => return None,
            None => tokio::time::timeout(SILENCE, body.next()).await,
        };
        match next {
            Ok(Some(Ok(chunk))) => cutter.add(&chunk),
            Ok(None) => {
                cutter.end();
                return Some(Ok(()));
            }
            Ok(Some(Err(error))) => return Some(Err(broke_off(&error))),
            Err(_) => return Some(Err(silence())),
        }
    }
    None
}

fn silence() -> Problem {
    Problem::new(problem::SLOW_BODY, format!("Nothing came for {} seconds; the stream is given up.", SILENCE.as_secs()))
}

pub(crate) fn broke_off(error: &PayloadError) -> Problem {
    Problem::new(problem::MALFORMED_BODY, format!("The body broke off: {error}."))
}
