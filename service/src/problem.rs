//! Problem documents (RFC 9457): the one form in which the service says no.

use actix_web::body::BoxBody;
use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use utoipa::ToSchema;

/// The kinds of problem; each has a page at `/problems/<slug>`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Kind {
    /// Last part of the problem's type.
    pub slug: &'static str,
    /// HTTP status.
    pub status: u16,
    /// Short title.
    pub title: &'static str,
    /// What the page says: when it happens and what to do.
    pub page: &'static str,
}

macro_rules! kinds {
    ($($name:ident = $slug:literal, $status:literal, $title:literal, $page:literal;)+) => {
        $(#[doc = $title] pub const $name: Kind = Kind { slug: $slug, status: $status, title: $title, page: $page };)+
        /// All kinds.
        pub const ALL: &[Kind] = &[$($name),+];
    };
}

kinds! {
    INVALID_REQUEST = "invalid-request", 422, "The request has invalid fields",
        "The body or query could be read, but fields are missing, unknown, of the wrong type, out of range or in contradiction. \
         Every fault of the stage is listed under errors with its place, a stable code and what would be right. Mend them and \
         send the request again.";
    MALFORMED_BODY = "malformed-body", 400, "The body is not readable",
        "The body is not one complete JSON object in UTF-8, or, for a table, not CSV in UTF-8 with a header. The detail says where reading stopped.";
    UNAUTHORIZED = "unauthorized", 401, "A token is needed",
        "The calculations of this service are open to holders of a token. Send it as Authorization: Bearer <token>; whoever runs \
         the service gives them out.";
    WRONG_HOST = "wrong-host", 421, "The request was meant for another host",
        "The service is configured to answer under certain names only, and the Host header has none of them. Use the name that \
         whoever runs the service gave.";
    NOT_FOUND = "not-found", 404, "There is nothing at this address",
        "The path names no calculation, method or page. /openapi.json lists every address.";
    METHOD_NOT_ALLOWED = "method-not-allowed", 405, "This address does not take this method",
        "The Allow header names the methods that it takes.";
    SLOW_BODY = "slow-body", 408, "The body did not arrive in time",
        "The whole body must arrive within ten seconds of the head.";
    BODY_TOO_LARGE = "body-too-large", 413, "The body is too large",
        "A single calculation takes at most 256 KiB (a parts catalogue 32 MiB), a batch 8 MiB, a line of a stream and a row of a table 64 KiB. Streams and \
         tables have no end of their own: send what is larger as lines or rows.";
    UNSUPPORTED_MEDIA_TYPE = "unsupported-media-type", 415, "The body is not of a supported type",
        "Send Content-Type: application/json (application/x-ndjson to a stream, text/csv to a table), in UTF-8 and without \
         Content-Encoding.";
    OVERLOADED = "overloaded", 503, "The service is busy",
        "As much is running as the service takes at once. Wait as long as the Retry-After header says and try again; the same \
         request gets the same answer.";
    INTERNAL = "internal", 500, "The calculation failed",
        "A fault of the service, not of the request. It is logged under the request id; please report it with that id.";
}

/// One wrong field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct FieldError {
    /// JSON Pointer into the request body (RFC 6901, as a URI fragment).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pointer: Option<String>,
    /// Name of the query parameter, when the request came as a query.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub parameter: Option<String>,
    /// Stable code in snake_case.
    pub code: String,
    /// What is wrong and what would be right.
    pub detail: String,
    /// The name that was probably meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub suggestion: Option<String>,
}

/// A problem document (RFC 9457).
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ProblemDocument {
    /// `/problems/<slug>`: a page that explains the kind.
    pub r#type: String,
    /// What kind of problem it is.
    pub title: &'static str,
    /// The HTTP status.
    pub status: u16,
    /// What happened this time.
    pub detail: String,
    /// The id under which the request is logged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub request_id: Option<String>,
    /// The wrong fields, all of one stage at once.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<FieldError>,
}

/// Why a request gets no answer.
#[derive(Debug, Clone)]
pub struct Problem(Box<Inner>);

#[derive(Debug, Clone)]
struct Inner {
    kind: Kind,
    detail: String,
    errors: Vec<FieldError>,
    /// Headers that this kind of problem needs.
    header: Option<(header::HeaderName, &'static str)>,
    /// Whether the connection ends with it: the rest of a body that nobody reads would wait in its buffers.
    closes: bool,
}

impl Problem {
    /// A problem of a kind, with what happened.
    pub fn new(kind: Kind, detail: impl Into<String>) -> Self {
        let closes = matches!(kind.status, 408 | 413 | 503);
        Self(Box::new(Inner { kind, detail: detail.into(), errors: Vec::new(), header: None, closes }))
    }

    /// Wrong fields.
    #[must_use]
    pub fn invalid(errors: Vec<FieldError>) -> Self {
        let detail = if errors.len() == 1 {
            "1 field is wrong.".to_owned()
        } else {
            format!("{} fields are wrong.", errors.len())
        };
        Self(Box::new(Inner { errors, ..*Self::new(INVALID_REQUEST, detail).0 }))
    }

    /// A method that the address does not take.
    #[must_use]
    pub fn not_allowed(allow: &'static str) -> Self {
        let mut problem = Self::new(METHOD_NOT_ALLOWED, format!("Use one of {allow}."));
        problem.0.header = Some((header::ALLOW, allow));
        problem
    }

    /// A missing or unknown token.
    #[must_use]
    pub fn unauthorized(detail: &str) -> Self {
        let mut problem = Self::new(UNAUTHORIZED, detail);
        problem.0.header = Some((header::WWW_AUTHENTICATE, "Bearer"));
        problem
    }

    /// A refusal for now.
    #[must_use]
    pub fn overloaded(detail: impl Into<String>) -> Self {
        let mut problem = Self::new(OVERLOADED, detail);
        problem.0.header = Some((header::RETRY_AFTER, "1"));
        problem
    }

    /// The same where the body has been read: who is to come again need not connect again, least of all when much is going on.
    #[must_use]
    pub(crate) fn keeping_the_connection(mut self) -> Self {
        self.0.closes = false;
        self
    }

    /// The kind.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.0.kind
    }

    /// The wrong fields.
    #[must_use]
    pub fn errors(&self) -> &[FieldError] {
        &self.0.errors
    }

    /// Turns places in a body into names of query parameters.
    #[must_use]
    pub(crate) fn in_query(mut self) -> Self {
        for error in &mut self.0.errors {
            if let Some(pointer) = error.pointer.take() {
                error.parameter = Some(pointer.trim_start_matches("#/").trim_start_matches('#').replace('/', "."));
            }
        }
        self
    }

    /// The document to send.
    #[must_use]
    pub fn document(&self, request_id: Option<&str>) -> ProblemDocument {
        ProblemDocument {
            r#type: format!("/problems/{}", self.0.kind.slug),
            title: self.0.kind.title,
            status: self.0.kind.status,
            detail: self.0.detail.clone(),
            request_id: request_id.map(ToOwned::to_owned),
            errors: self.0.errors.clone(),
        }
    }

    /// The response to send.
    pub(crate) fn response(&self, request_id: Option<&str>) -> HttpResponse {
        let mut builder = HttpResponse::build(self.status_code());
        builder.insert_header((header::CACHE_CONTROL, "no-store"));
        if self.0.closes {
            builder.force_close();
        }
        if let Some(header) = self.0.header.clone() {
            builder.insert_header(header);
        }
        let body = serde_json::to_vec(&self.document(request_id)).unwrap_or_default();
        builder.insert_header((header::CONTENT_TYPE, "application/problem+json")).body(body)
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "{}: {}", self.0.kind.title, self.0.detail)
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.0.kind.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    /// Without an id; the observer that wraps every request puts the id in.
    fn error_response(&self) -> HttpResponse<BoxBody> {
        self.response(None)
    }
}
