//! Lines that tell how far a long calculation of a stream is, among the lines that answer.

use std::time::Duration;

use actix_web::web::Bytes;
use calc_core::stop::Progress;
use futures_util::{Stream, StreamExt, stream};

/// A calculation that takes longer than this is told about, and again as often.
const EVERY: Duration = Duration::from_millis(500);

/// The answers, and between them, when there is none for a while and the work has told of itself, a line of progress.
pub(super) fn among<E>(
    answers: impl Stream<Item = Result<Bytes, E>>,
    progress: Progress,
) -> impl Stream<Item = Result<Bytes, E>> {
    stream::unfold((Box::pin(answers), progress), |(mut answers, progress)| async move {
        loop {
            match tokio::time::timeout(EVERY, answers.next()).await {
                Ok(answer) => return answer.map(|answer| (answer, (answers, progress))),
                Err(_) => {
                    if let Some((line, done)) = progress.take() {
                        let text = format!("{{\"type\":\"progress\",\"line\":{line},\"done\":{done}}}\n");
                        return Some((Ok(Bytes::from(text)), (answers, progress)));
                    }
                }
            }
        }
    })
}
