//! Who may ask: the names under which the service may be addressed, and the bearer tokens that open the calculations.
//!
//! Both are off unless configured. The probes for an orchestrator are always open, since it addresses a replica by its number
//! and holds no token. The document, its page and the pages on problems and methods are open too: they hold nothing that the
//! source does not.

use std::str::FromStr;
use std::sync::Arc;

use actix_web::Error;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::{Method, header};
use actix_web::middleware::Next;
use sha2::{Digest, Sha256};
use subtle::ConstantTimeEq;

use crate::config::Settings;
use crate::problem::{self, Problem};

/// The SHA-256 of a bearer token: a configuration that leaks opens nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TokenHash([u8; 32]);

impl TokenHash {
    /// The hash of a token.
    #[must_use]
    pub fn of(token: &[u8]) -> Self {
        Self(Sha256::digest(token).into())
    }
}

impl FromStr for TokenHash {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let mut bytes = [0; 32];
        let wrong = || "must be 64 hexadecimal digits, as `blockwright hash-token` prints them".to_owned();
        if text.len() != 64 || !text.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        for (place, byte) in bytes.iter_mut().enumerate() {
            *byte = u8::from_str_radix(&text[2 * place..2 * place + 2], 16).map_err(|_| wrong())?;
        }
        Ok(Self(bytes))
    }
}

impl std::fmt::Display for TokenHash {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.iter().try_for_each(|byte| write!(formatter, "{byte:02x}"))
    }
}

/// Who may ask.
#[derive(Debug, Clone)]
pub(crate) struct Access {
    hosts: Vec<String>,
    tokens: Vec<TokenHash>,
}

const PROBES: [&str; 2] = ["/healthz", "/readyz"];

impl Access {
    pub(crate) fn new(settings: &Settings) -> Self {
        let hosts = settings.allowed_hosts.iter().map(|host| host.to_ascii_lowercase()).collect();
        Self { hosts, tokens: settings.token_hashes.clone() }
    }

    /// Whether anybody is ever refused.
    pub(crate) fn is_limited(&self) -> bool {
        !self.hosts.is_empty() || !self.tokens.is_empty()
    }

    fn check(&self, request: &ServiceRequest) -> Result<(), Problem> {
        let path = request.path();
        if PROBES.contains(&path) {
            return Ok(());
        }
        self.check_host(request)?;
        // What a method allows is asked without a token, by browsers and by spreadsheets.
        let guarded = (path.starts_with("/v1/") && !path.starts_with("/v1/methods")) || path == "/metrics";
        if guarded && request.method() != Method::OPTIONS { self.check_token(request) } else { Ok(()) }
    }

    fn check_host(&self, request: &ServiceRequest) -> Result<(), Problem> {
        let named = named_host(request).to_ascii_lowercase();
        let without_port = named.rsplit_once(':').map_or(named.as_str(), |(name, _)| name);
        if self.hosts.is_empty() || self.hosts.iter().any(|host| *host == named || host == without_port) {
            return Ok(());
        }
        Err(Problem::new(problem::WRONG_HOST, "The Host header names a host that this service does not answer for."))
    }

    fn check_token(&self, request: &ServiceRequest) -> Result<(), Problem> {
        if self.tokens.is_empty() {
            return Ok(());
        }
        let Some(given) = request.headers().get(header::AUTHORIZATION) else {
            return Err(Problem::unauthorized("Send Authorization: Bearer and the token."));
        };
        let token = given.as_bytes().split_at_checked(7).filter(|(kind, _)| kind.eq_ignore_ascii_case(b"bearer "));
        let hash = TokenHash::of(token.map_or(b"", |(_, token)| token.trim_ascii()));
        // All are compared, each in constant time: how long it takes says nothing about a token.
        let known = self.tokens.iter().fold(subtle::Choice::from(0), |known, one| known | one.0.ct_eq(&hash.0));
        if token.is_some() && bool::from(known) {
            Ok(())
        } else {
            Err(Problem::unauthorized("The token is not known here."))
        }
    }
}

/// The host that a request names (RFC 9112, 3.2.2). What a proxy would add about it does not count: anybody can send that, even
/// a page whose own name has been pointed at this address.
fn named_host(request: &ServiceRequest) -> &str {
    match request.uri().authority() {
        Some(authority) => authority.as_str(),
        None => request.headers().get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default(),
    }
}

/// Answers those who may not ask, and lets the others through.
pub(crate) async fn guard(
    access: Arc<Access>,
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    match access.check(&request) {
        Ok(()) => next.call(request).await.map(ServiceResponse::map_into_boxed_body),
        Err(problem) => Ok(request.error_response(problem)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hash_is_the_published_one() {
        // FIPS 180-4's example: SHA-256 of "abc".
        let published = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(TokenHash::of(b"abc").to_string(), published);
        assert_eq!(published.parse(), Ok(TokenHash::of(b"abc")));
        assert!("abc".parse::<TokenHash>().is_err() && "g".repeat(64).parse::<TokenHash>().is_err());
    }
}
