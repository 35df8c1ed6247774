//! What is answered to those who do not come in: what to do now, then why.

use axum::extract::Request;
use axum::http::StatusCode;
use axum::http::header::{ACCEPT, LOCATION};
use axum::http::{HeaderValue, Method};
use axum::response::{IntoResponse, Response};
use maud::html;
use store::trouble::ReadError;

use crate::web::frame::{Theme, outside};
use crate::web::percent::encoded;

/// Why a request goes no further.
#[derive(Debug)]
pub(super) enum Refusal {
    /// No host, several of them, or one that is no name.
    Malformed,
    /// The machine is called by a name that is not its own.
    Host { asked: String },
    /// A page of another site had the browser ask.
    Foreign,
    /// More is sent than any form holds.
    TooLarge,
    /// It took too long.
    Slow,
    /// Nobody known asks for a page.
    Login { after: String },
    /// Nobody known asks for something else.
    Unknown,
    /// This device may look, and no more.
    MayNot,
    /// Who may come in could not be looked up.
    Trouble(ReadError),
}

impl Refusal {
    /// A person who opens a page is led to the login; anything else is told.
    pub(super) fn login(request: &Request) -> Self {
        let accepts = request.headers().get(ACCEPT).and_then(|accept| accept.to_str().ok());
        let reads = accepts.is_some_and(|accept| accept.contains("text/html"));
        let path = request.uri().path_and_query().map(|path| path.as_str());
        match path.filter(|_| reads && request.method() == Method::GET) {
            Some(path) => Self::Login { after: path.to_owned() },
            None => Self::Unknown,
        }
    }

    fn words(&self) -> (StatusCode, String, String) {
        let (status, remedy, detail) = match self {
            Self::Malformed => (
                StatusCode::BAD_REQUEST,
                "Type the address of this machine into the browser again",
                "the request names no host, or several".to_owned(),
            ),
            Self::Host { asked } => (
                StatusCode::MISDIRECTED_REQUEST,
                "Open this program by the address it printed, or start it with --name and the \
                 name you want to call it by",
                format!("{asked} is no name of this machine"),
            ),
            Self::Foreign => (
                StatusCode::FORBIDDEN,
                "Open the page here and do it again",
                "a page of another site asked for this".to_owned(),
            ),
            Self::TooLarge => (
                StatusCode::PAYLOAD_TOO_LARGE,
                "Send less, in several parts",
                format!("no more than {} bytes are taken at once", super::LARGEST),
            ),
            Self::Slow => (
                StatusCode::REQUEST_TIMEOUT,
                "Look whether what you sent is there, and do it again if not",
                format!("it took longer than {} s", super::LONGEST.as_secs()),
            ),
            Self::Login { .. } | Self::Unknown => (
                StatusCode::FORBIDDEN,
                "Log in, or pair this device",
                "this device is not known here, or not any more".to_owned(),
            ),
            Self::MayNot => (
                StatusCode::FORBIDDEN,
                "Do it at another device, or log in on this one",
                "this device was let in for less than that".to_owned(),
            ),
            Self::Trouble(error) => {
                (StatusCode::INTERNAL_SERVER_ERROR, "Go to the machine itself", error.to_string())
            }
        };
        (status, remedy.to_owned(), detail)
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let (status, remedy, detail) = self.words();
        let body = html! {
            h1 { (remedy) }
            p { (detail) }
            p { a href="/" { "Today" } " · " a href="/login" { "Log in" } }
        };
        let mut answer = (status, outside(Theme::Daylight, "Not here", &body)).into_response();
        if let Self::Login { after } = &self
            && let Ok(place) = HeaderValue::from_str(&format!("/login?after={}", encoded(after)))
        {
            *answer.status_mut() = StatusCode::SEE_OTHER;
            answer.headers_mut().insert(LOCATION, place);
        }
        answer
    }
}
