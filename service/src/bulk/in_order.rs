//! Work on all cores whose outcomes come out in the order in which it went in.

use std::io;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// Where work comes from; at most one core asks at a time.
struct Source<N> {
    next: N,
    taken: u64,
    ended: bool,
}

/// Where outcomes go, each in its turn.
struct Sink<D> {
    done: D,
    turn: u64,
    broken: Option<io::Error>,
}

/// Takes blocks from `next` until there are no more, works on them on all cores, and hands the outcomes to `done` in order. As
/// many blocks are under way as there are cores.
///
/// # Errors
/// The first error of `next` or `done`.
pub(crate) fn in_order<B, T>(
    next: impl FnMut() -> io::Result<Option<B>> + Send,
    work: impl Fn(B) -> T + Sync,
    done: impl FnMut(T) -> io::Result<()> + Send,
) -> io::Result<()> {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let source = Mutex::new(Source { next, taken: 0, ended: false });
    let sink = Mutex::new(Sink { done, turn: 0, broken: None });
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

fn take<B, N: FnMut() -> io::Result<Option<B>>, D>(
    source: &Mutex<Source<N>>,
    sink: &Mutex<Sink<D>>,
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
struct Turn<'a, D> {
    number: u64,
    sink: &'a Mutex<Sink<D>>,
    turned: &'a Condvar,
}

impl<D> Turn<'_, D> {
    fn give<T>(self, outcome: T)
    where
        D: FnMut(T) -> io::Result<()>,
    {
        let waiting = |sink: &mut Sink<D>| sink.turn != self.number && sink.broken.is_none();
        let mut sink = self.turned.wait_while(lock(self.sink), waiting).unwrap_or_else(PoisonError::into_inner);
        if sink.broken.is_none() {
            let outcome = (sink.done)(outcome);
            sink.broken = outcome.err();
            sink.turn += 1;
        }
    }
}

impl<D> Drop for Turn<'_, D> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            lock(self.sink).broken.get_or_insert_with(|| io::Error::other("a calculation failed"));
        }
        self.turned.notify_all();
    }
}

#[cfg(test)]
mod tests {
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
