//! Bodies that are refused before they end. The server would read a chunked one to its end, wherever that is, if nobody held it
//! any more when the answer goes out: a client could keep its connection for ever. Held by the answer's own body, it makes the
//! server close the connection after the answer.

use std::cell::RefCell;
use std::pin::Pin;
use std::rc::Rc;
use std::task::{Context, Poll};

use actix_web::HttpMessage;
use actix_web::body::{BodySize, BoxBody, MessageBody};
use actix_web::dev::{Payload, ServiceRequest};
use actix_web::error::PayloadError;
use actix_web::http::header::TRANSFER_ENCODING;
use actix_web::web::Bytes;
use futures_util::Stream;

/// The body of a request, for whoever reads it and for the answer that holds it.
pub(crate) struct Shared(Rc<RefCell<Payload>>);

impl Shared {
    /// The body when it is chunked; of any other the server knows the length, and closes by itself.
    pub(crate) fn of(request: &mut ServiceRequest) -> Option<Self> {
        request.headers().get(TRANSFER_ENCODING)?;
        let body = Rc::new(RefCell::new(request.take_payload()));
        let payload = Box::pin(Self(Rc::clone(&body)));
        request.set_payload(Payload::Stream { payload });
        Some(Self(body))
    }
}

impl Stream for Shared {
    type Item = Result<Bytes, PayloadError>;

    fn poll_next(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        Pin::new(&mut *self.0.borrow_mut()).poll_next(context)
    }
}

/// The same answer, holding something until its last byte is given.
pub(crate) fn holding(answer: BoxBody, held: impl Unpin + 'static) -> BoxBody {
    BoxBody::new(Holding { answer, _held: held })
}

struct Holding<T> {
    answer: BoxBody,
    _held: T,
}

impl<T: Unpin> MessageBody for Holding<T> {
    type Error = <BoxBody as MessageBody>::Error;

    fn size(&self) -> BodySize {
        self.answer.size()
    }

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Result<Bytes, Self::Error>>> {
        self.answer.as_pin_mut().poll_next(context)
    }
}
