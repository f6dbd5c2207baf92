//! The body of a request as blocks of whole lines, and the places that endless bodies take.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use actix_web::error::PayloadError;
use actix_web::web::Bytes;
use calc_core::stop::Stop;
use futures_util::{FutureExt, Stream, StreamExt, stream};

use super::cut::{Block, Cutter, Ends};
use crate::long_work;
use crate::memory::Held;
use crate::problem::{self, Problem};

/// A block is answered once it has this many bytes, or once nothing more is there.
pub(crate) const BLOCK: usize = 64 * 1024;
/// A body that sends nothing for this long is given up.
const SILENCE: Duration = Duration::from_secs(30);
/// Most endless bodies at once.
const MOST: usize = 64;

static RUNNING: AtomicUsize = AtomicUsize::new(0);

/// One of the places for endless bodies; given back when dropped.
pub(crate) struct Place(Held);

/// What one of them may hold at once.
const HOLDS: usize = 2 * 1024 * 1024;

impl Place {
    /// Takes a place.
    ///
    /// # Errors
    /// When all are taken, or no memory is left for one more.
    pub(crate) fn take() -> Result<Self, Problem> {
        let running = RUNNING.fetch_add(1, Ordering::Relaxed);
        let mut place = Self(Held::default());
        place.0.grow(HOLDS)?;
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

/// Answers of a part are sent once they have this many bytes, and the rest of it is answered then; some calculations answer a
/// short line with a megabyte.
pub(crate) const ENOUGH: usize = 256 * 1024;

/// The outcomes of some pieces of work in their order, worked on as many at once as there are cores. Work may leave a rest,
/// which is done once its outcome so far is on its way: so no more is held than is being sent.
pub(crate) fn answered<W, T>(
    pieces: impl Stream<Item = W>,
    stop: Stop,
    work: impl Fn(W, &Stop) -> (T, Option<W>) + Clone + Send + 'static,
) -> impl Stream<Item = T>
where
    W: Send + 'static,
    T: Default + Send + 'static,
{
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let one = move |piece: W| {
        let work = work.clone();
        // Work that fails says nothing: the answer lacks its end.
        long_work::answer_block(stop.clone(), move |stop| work(piece, stop))
    };
    let first = one.clone();
    pieces.map(first).buffered(cores).flat_map(move |begun| {
        let one = one.clone();
        stream::unfold((Some(begun), None), move |(outcome, rest)| {
            let one = one.clone();
            async move {
                let (outcome, next) = match (outcome, rest) {
                    (Some(begun), _) => begun,
                    (None, Some(rest)) => one(rest).await,
                    (None, None) => return None,
                };
                Some((outcome, (None, next)))
            }
        })
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
