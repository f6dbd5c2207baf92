//! Work on all cores whose outcomes come out in the order in which it went in.

use std::collections::BTreeMap;
use std::io;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// Where work comes from; at most one core asks at a time.
struct Source<N> {
    next: N,
    taken: u64,
    ended: bool,
}

/// Where outcomes go, each in its turn.
struct Sink<D, T> {
    done: D,
    turn: u64,
    /// Outcomes that came before their turn.
    early: BTreeMap<u64, T>,
    broken: Option<io::Error>,
}

/// A core that is this many blocks ahead waits for the others: one that waited for each turn would stand still whenever its
/// neighbour is slower.
const MOST_EARLY: u64 = 4;

/// Takes blocks from `next` until there are no more, works on them on all cores, and hands the outcomes to `done` in order. A few
/// more blocks are under way than there are cores.
///
/// # Errors
/// The first error of `next` or `done`.
pub(crate) fn in_order<B, T: Send>(
    next: impl FnMut() -> io::Result<Option<B>> + Send,
    work: impl Fn(B) -> T + Sync,
    done: impl FnMut(T) -> io::Result<()> + Send,
) -> io::Result<()> {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let source = Mutex::new(Source { next, taken: 0, ended: false });
    let sink = Mutex::new(Sink { done, turn: 0, early: BTreeMap::new(), broken: None });
    let turned = Condvar::new();
    std::thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                while let Some((number, block)) = take(&source, &sink) {
                    let turn = Turn { number, sink: &sink, turned: &turned };
                    turn.give(work(block));
                }
            });
        }
    });
    match lock(&sink).broken.take() {
        Some(error) => Err(error),
        None => Ok(()),
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

fn take<B, N: FnMut() -> io::Result<Option<B>>, D, T>(
    source: &Mutex<Source<N>>,
    sink: &Mutex<Sink<D, T>>,
) -> Option<(u64, B)> {
    let mut source = lock(source);
    if source.ended || lock(sink).broken.is_some() {
        return None;
    }
    match (source.next)() {
        Ok(Some(block)) => {
            source.taken += 1;
            Some((source.taken - 1, block))
        }
        Ok(None) => {
            source.ended = true;
            None
        }
        Err(error) => {
            source.ended = true;
            lock(sink).broken.get_or_insert(error);
            None
        }
    }
}

/// The turn of one block; when it is lost, the others do not wait for it.
struct Turn<'a, D, T> {
    number: u64,
    sink: &'a Mutex<Sink<D, T>>,
    turned: &'a Condvar,
}

impl<D: FnMut(T) -> io::Result<()>, T> Turn<'_, D, T> {
    fn give(self, outcome: T) {
        let too_early = |sink: &mut Sink<D, T>| self.number > sink.turn + MOST_EARLY && sink.broken.is_none();
        let mut sink = self.turned.wait_while(lock(self.sink), too_early).unwrap_or_else(PoisonError::into_inner);
        sink.early.insert(self.number, outcome);
        let mut turn = sink.turn;
        while sink.broken.is_none()
            && let Some(outcome) = sink.early.remove(&turn)
        {
            sink.broken = (sink.done)(outcome).err();
            turn += 1;
            sink.turn = turn;
        }
    }
}

impl<D, T> Drop for Turn<'_, D, T> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            lock(self.sink).broken.get_or_insert_with(|| io::Error::other("a calculation failed"));
        }
        self.turned.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU64, Ordering};
    use std::time::Duration;

    use super::*;

    #[test]
    fn outcomes_come_in_order_however_long_each_takes() {
        let mut left = 0..200_u64;
        let mut found = Vec::new();
        in_order(
            || Ok(left.next()),
            |number| {
                std::thread::sleep(Duration::from_micros(number * 7919 % 300));
                number
            },
            |number| {
                found.push(number);
                Ok(())
            },
        )
        .expect("nothing fails");
        assert_eq!(found, (0..200).collect::<Vec<_>>());
    }

    #[test]
    fn one_slow_block_keeps_a_few_others_waiting_and_no_more() {
        let cores = std::thread::available_parallelism().map_or(1, usize::from) as u64;
        let (mut left, taken) = (0..200_u64, AtomicU64::new(0));
        let (mut meanwhile, mut found) = (None, 0);
        in_order(
            || {
                taken.fetch_add(1, Ordering::Relaxed);
                Ok(left.next())
            },
            |number| {
                if number == 0 {
                    std::thread::sleep(Duration::from_millis(100));
                }
                taken.load(Ordering::Relaxed)
            },
            |taken| {
                meanwhile.get_or_insert(taken);
                found += 1;
                Ok(())
            },
        )
        .expect("nothing fails");
        assert_eq!(found, 200);
        // Each core holds one block, beside those that lie ready.
        let meanwhile = meanwhile.expect("the first block came out");
        assert!((cores.min(2)..=cores + MOST_EARLY).contains(&meanwhile), "{meanwhile}");
    }

    #[test]
    fn an_error_on_either_side_ends_it() {
        let mut left = 0..;
        let failed = in_order(
            || Ok(left.next()),
            |number: u64| number,
            |number| if number < 50 { Ok(()) } else { Err(io::Error::other("full")) },
        );
        assert_eq!(failed.expect_err("the sink fails").to_string(), "full");
        let mut count = 0;
        let next = || {
            count += 1;
            if count < 50 { Ok(Some(count)) } else { Err(io::Error::other("torn")) }
        };
        let mut seen = 0;
        let failed = in_order(
            next,
            |number| number,
            |_| {
                seen += 1;
                Ok(())
            },
        );
        assert_eq!(failed.expect_err("the source fails").to_string(), "torn");
        assert!(seen <= 49);
    }
}
