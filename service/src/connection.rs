//! A client's connection with a clock of its own. The server has one on the first head, and one on idle connections that ends
//! with the next byte: half of a further head would keep its place for ever. This one ends a connection on which nothing gets on,
//! idle or not: nothing is written, and no request is at work. What is at work has other clocks: on its body, on its steps, on
//! its reader.
//!
//! A request pays for it with a flag and a count: one timer ticks for as long as the connection is there. Each tick also wakes
//! whoever waits on the connection, and so makes the second look after which a late body has its clock (`http.rs`).

use std::cell::Cell;
use std::future::Future;
use std::io;
use std::mem;
use std::pin::{Pin, pin};
use std::rc::Rc;
use std::task::{Context, Poll};
use std::time::Duration;

use actix_web::rt::net::TcpStream;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::task::coop::unconstrained;
use tokio::time::{Instant, Sleep, sleep};

/// This many ticks in a row without anything, and the connection is closed.
const QUIET_TICKS: u32 = 4;

/// The requests of a connection that are at work.
#[derive(Clone, Default)]
pub(crate) struct Work(Rc<Cell<u32>>);

/// A request is at work until this is dropped.
pub(crate) struct AtWork(Work);

impl Work {
    /// One more.
    pub(crate) fn begin(&self) -> AtWork {
        self.0.update(|count| count + 1);
        AtWork(self.clone())
    }
}

impl Drop for AtWork {
    fn drop(&mut self) {
        self.0.0.update(|count| count - 1);
    }
}

/// A connection that gives itself up when nothing gets on.
pub(crate) struct Connection {
    stream: TcpStream,
    work: Work,
    /// Whether something was written since the last tick.
    wrote: bool,
    /// Whether the client has yet to take what is written; the kernel has the clock on that.
    full: bool,
    quiet: u32,
    tick: Duration,
    next: Option<Pin<Box<Sleep>>>,
}

impl Connection {
    /// A connection that is looked at so often.
    pub(crate) fn new(stream: TcpStream, tick: Duration) -> Self {
        Self { stream, work: Work::default(), wrote: false, full: false, quiet: 0, tick, next: None }
    }

    /// Where its requests tell of their work.
    pub(crate) fn work(&self) -> Work {
        self.work.clone()
    }

    /// Whether nothing has got on for too long. A connection is one task, so who is woken by the tick stays the same, and the
    /// timer is polled once for each.
    fn is_given_up(&mut self, context: &mut Context<'_>) -> bool {
        let tick = self.tick;
        let next = match &mut self.next {
            Some(next) if !next.is_elapsed() => return false,
            Some(next) => {
                let got_on = mem::take(&mut self.wrote) || self.full || self.work.0.get() > 0;
                self.quiet = if got_on { 0 } else { self.quiet + 1 };
                next.as_mut().reset(Instant::now() + tick);
                next
            }
            none => none.insert(Box::pin(sleep(tick))),
        };
        // A task that has used up its turn would be told to poll again, and the timer would not run.
        let _ = pin!(unconstrained(next)).poll(context);
        self.quiet >= QUIET_TICKS
    }
}

impl AsyncRead for Connection {
    fn poll_read(mut self: Pin<&mut Self>, context: &mut Context<'_>, into: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        let read = Pin::new(&mut self.stream).poll_read(context, into);
        // Bytes alone are nothing: they may drip. Every reader goes on until there are none.
        if read.is_pending() && self.is_given_up(context) {
            return Poll::Ready(Err(io::ErrorKind::TimedOut.into()));
        }
        read
    }
}

impl AsyncWrite for Connection {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.wrote = true;
        self.full = written.is_pending();
        written
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}

#[cfg(test)]
mod tests {
    use std::net::TcpListener;
    use std::task::Waker;

    use super::*;

    const TICK: Duration = Duration::from_secs(10);

    /// Both ends, with a time that only stands still or is moved.
    async fn connect() -> (Connection, TcpStream) {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port is free");
        let address = listener.local_addr().expect("it has an address");
        let client = TcpStream::connect(address).await.expect("it listens");
        let (server, _) = listener.accept().expect("it was called");
        server.set_nonblocking(true).expect("it can");
        tokio::time::pause();
        let mut connection = Connection::new(TcpStream::from_std(server).expect("it is a socket"), TICK);
        assert!(read(&mut connection).is_pending());
        (connection, client)
    }

    fn read(connection: &mut Connection) -> Poll<io::Result<()>> {
        let context = &mut Context::from_waker(Waker::noop());
        Pin::new(connection).poll_read(context, &mut ReadBuf::new(&mut [0; 16]))
    }

    /// How many ticks it lasts, up to a bound; after each, something is done with it.
    async fn ticks(connection: &mut Connection, most: u32, mut each: impl FnMut(&mut Connection)) -> u32 {
        for tick in 1..=most {
            // The timer counts whole milliseconds, and one more.
            tokio::time::advance(TICK + Duration::from_millis(2)).await;
            match read(connection) {
                Poll::Pending => each(connection),
                Poll::Ready(outcome) => {
                    assert_eq!(outcome.expect_err("nothing comes").kind(), io::ErrorKind::TimedOut);
                    return tick;
                }
            }
        }
        most
    }

    fn write(connection: &mut Connection, bytes: &[u8]) -> bool {
        let context = &mut Context::from_waker(Waker::noop());
        Pin::new(connection).poll_write(context, bytes).is_ready()
    }

    #[tokio::test]
    async fn a_connection_on_which_nothing_gets_on_is_given_up() {
        let (mut connection, _client) = connect().await;
        assert_eq!(ticks(&mut connection, 100, |_| ()).await, QUIET_TICKS);
    }

    #[tokio::test]
    async fn a_calculation_may_take_as_long_as_it_takes() {
        let (mut connection, _client) = connect().await;
        let work = connection.work();
        let (first, second) = (work.begin(), work.begin());
        assert_eq!(ticks(&mut connection, 100, |_| ()).await, 100);
        drop(first);
        assert_eq!(ticks(&mut connection, 100, |_| ()).await, 100);
        drop(second);
        assert_eq!(ticks(&mut connection, 100, |_| ()).await, QUIET_TICKS);
    }

    #[tokio::test]
    async fn what_is_written_keeps_a_connection_and_what_is_not_taken_is_left_to_the_kernel() {
        let (mut connection, _client) = connect().await;
        let mut turn = 0;
        let now_and_then = |connection: &mut Connection| {
            turn += 1;
            assert!(turn % 3 > 0 || write(connection, b"x"));
        };
        assert_eq!(ticks(&mut connection, 100, now_and_then).await, 100);
        let block = [0; 64 * 1024];
        // The socket learns that it is writable from the runtime.
        while write(&mut connection, &block) {}
        assert_eq!(ticks(&mut connection, 100, |_| ()).await, 100);
    }
}
