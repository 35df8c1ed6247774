//! One connection to an office, opened anew where it was cut.

use std::fmt;
use std::time::Duration;

use axum::body::{Body, to_bytes};
use axum::http::header::{ACCEPT, AUTHORIZATION, CONTENT_TYPE, HOST};
use axum::http::{Method, Request, StatusCode};
use hyper::client::conn::http1::{SendRequest, handshake};
use hyper_util::rt::TokioIo;
use serde::Serialize;
use serde::de::DeserializeOwned;
use tokio::net::TcpStream;
use tokio::time::timeout;

use super::address::Address;
use super::said::Not;
use crate::web::secret;

/// An office that can be reached answers within this time.
const CONNECT: Duration = Duration::from_secs(5);

/// An answer, what is sent included; the office itself gives up after thirty seconds.
const ANSWER: Duration = Duration::from_secs(40);

/// No answer is larger, in bytes.
const LARGEST: usize = 64 * 1024 * 1024;

/// Why an office did not answer as it should.
#[derive(Debug)]
pub(crate) enum WireError {
    /// Nobody is there.
    Away { said: String },
    /// The connection was cut, or nothing came.
    Cut { said: String },
    /// The office is busy; the same may work in a moment.
    Busy { said: String },
    /// It does not let this laptop in.
    Unknown,
    /// It refused, and said what to do.
    Refused { remedy: String, detail: String },
    /// Something else answers there.
    Foreign { said: String },
}

impl WireError {
    /// Whether the same may work in a moment.
    pub(super) const fn may_pass(&self) -> bool {
        matches!(self, Self::Away { .. } | Self::Cut { .. } | Self::Busy { .. })
    }
}

impl fmt::Display for WireError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Away { said } => write!(
                f,
                "check the network and that the office serves, then meet again; what was taken so \
                 far is kept ({said})"
            ),
            Self::Cut { said } => write!(
                f,
                "meet again when the connection is better; what was taken so far is kept ({said})"
            ),
            Self::Busy { said } => {
                write!(f, "meet again in a moment; what was taken so far is kept ({said})")
            }
            Self::Unknown => f.write_str(
                "have a code made at the office, on its page People, for a laptop that exchanges \
                 records, and give it once with --code (the office does not know this laptop, or \
                 not any more)",
            ),
            Self::Refused { remedy, detail } => write!(f, "{remedy} ({detail})"),
            Self::Foreign { said } => write!(
                f,
                "check the address, and that both sides have the same version of this program \
                 ({said})"
            ),
        }
    }
}

pub(super) struct Wire {
    address: Address,
    token: Option<[u8; 32]>,
    open: Option<SendRequest<Body>>,
}

impl Wire {
    pub(super) const fn new(address: Address, token: Option<[u8; 32]>) -> Self {
        Self { address, token, open: None }
    }

    /// Asks for something, or sends it.
    pub(super) async fn ask<T: DeserializeOwned>(
        &mut self,
        path: &str,
        body: Option<&(impl Serialize + Sync)>,
    ) -> Result<T, WireError> {
        let asked = timeout(ANSWER, self.asked(path, body)).await;
        let ended = asked.unwrap_or_else(|_| {
            Err(WireError::Cut { said: format!("nothing came for {} s", ANSWER.as_secs()) })
        });
        if ended.is_err() {
            // Whatever still comes on it belongs to nothing.
            self.open = None;
        }
        ended
    }

    async fn asked<T: DeserializeOwned>(
        &mut self,
        path: &str,
        body: Option<&(impl Serialize + Sync)>,
    ) -> Result<T, WireError> {
        let request = self.request(path, body)?;
        let cut = |error: hyper::Error| WireError::Cut { said: error.to_string() };
        let mut sender = match self.open.take().filter(|open| !open.is_closed()) {
            Some(sender) => sender,
            None => self.connect().await?,
        };
        sender.ready().await.map_err(cut)?;
        let answer = sender.send_request(request).await.map_err(cut)?;
        let status = answer.status();
        let bytes = to_bytes(Body::new(answer.into_body()), LARGEST).await;
        let bytes = bytes.map_err(|error| WireError::Cut { said: error.to_string() })?;
        self.open = Some(sender);
        if status.is_success() {
            return serde_json::from_slice(&bytes)
                .map_err(|error| WireError::Foreign { said: error.to_string() });
        }
        Err(refusal(status, &bytes))
    }

    fn request(
        &self,
        path: &str,
        body: Option<&(impl Serialize + Sync)>,
    ) -> Result<Request<Body>, WireError> {
        let mut request = Request::builder()
            .method(if body.is_some() { Method::POST } else { Method::GET })
            .uri(path)
            .header(HOST, self.address.authority())
            .header(ACCEPT, "application/json")
            .header(CONTENT_TYPE, "application/json");
        if let Some(token) = &self.token {
            request = request.header(AUTHORIZATION, format!("Bearer {}", secret::text(token)));
        }
        let body = match body {
            None => Body::empty(),
            Some(body) => {
                let bytes = serde_json::to_vec(body);
                Body::from(bytes.map_err(|error| WireError::Foreign { said: error.to_string() })?)
            }
        };
        request.body(body).map_err(|error| WireError::Foreign { said: error.to_string() })
    }

    async fn connect(&self) -> Result<SendRequest<Body>, WireError> {
        let away = |said: String| WireError::Away { said: format!("{}: {said}", self.address) };
        let opened = timeout(CONNECT, TcpStream::connect(self.address.socket())).await;
        let opened = opened.map_err(|_| away("nobody answers".to_owned()))?;
        let stream = opened.map_err(|error| away(error.to_string()))?;
        // What is sent goes at once; where that cannot be set it is a little later.
        let _ = stream.set_nodelay(true);
        let shaken = handshake(TokioIo::new(stream)).await;
        let (sender, connection) =
            shaken.map_err(|error| WireError::Cut { said: error.to_string() })?;
        // What goes wrong with it is told to whoever asks over it.
        tokio::spawn(async move { drop(connection.await) });
        Ok(sender)
    }
}

fn refusal(status: StatusCode, bytes: &[u8]) -> WireError {
    let said: Option<Not> = serde_json::from_slice(bytes).ok();
    let line = said.as_ref().map_or_else(|| status.to_string(), |not| not.remedy.clone());
    match status {
        StatusCode::SERVICE_UNAVAILABLE
        | StatusCode::REQUEST_TIMEOUT
        | StatusCode::TOO_MANY_REQUESTS => WireError::Busy { said: line },
        StatusCode::MISDIRECTED_REQUEST => WireError::Refused {
            remedy: "start the office with --name and the name you call it by, or call it by its \
                     address"
                .to_owned(),
            detail: "it does not know that name for itself".to_owned(),
        },
        _ => match said {
            Some(not) => WireError::Refused { remedy: not.remedy, detail: not.detail },
            None if status == StatusCode::FORBIDDEN => WireError::Unknown,
            None => WireError::Foreign { said: format!("it answered {status}") },
        },
    }
}
