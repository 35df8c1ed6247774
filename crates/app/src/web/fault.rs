//! What went wrong, as a page: what to do now, then why.

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::html;

use crate::output::Trouble;

/// Why a page cannot be shown.
#[derive(Debug)]
pub(crate) enum Fault {
    /// Nothing is at this address.
    NotFound { what: String },
    /// What was sent cannot be used.
    Refused { remedy: String, detail: String },
    /// The surroundings failed.
    Trouble(Trouble),
}

impl<T: Into<Trouble>> From<T> for Fault {
    fn from(trouble: T) -> Self {
        let trouble = trouble.into();
        match trouble {
            Trouble::Read(store::trouble::ReadError::NoRecord { record }) => {
                Self::NotFound { what: format!("record {record}") }
            }
            Trouble::Argument { remedy, detail } => Self::Refused { remedy, detail },
            other => Self::Trouble(other),
        }
    }
}

impl IntoResponse for Fault {
    fn into_response(self) -> Response {
        let (status, remedy, detail) = match self {
            Self::NotFound { what } => (
                StatusCode::NOT_FOUND,
                "Go back to today and look there".to_owned(),
                format!("there is no {what} here"),
            ),
            Self::Refused { remedy, detail } => (StatusCode::UNPROCESSABLE_ENTITY, remedy, detail),
            Self::Trouble(trouble) => {
                (StatusCode::INTERNAL_SERVER_ERROR, trouble.to_string(), String::new())
            }
        };
        let body = super::frame::bare(
            "Something is wrong",
            &html! {
                h1 { (remedy) }
                @if !detail.is_empty() { p { (detail) } }
                p { a href="/" { "Today" } }
            },
        );
        (status, body).into_response()
    }
}
