//! Coming in from another device: by password, or by the code of a pairing; and going out.

use std::time::{Duration, Instant};

use axum::extract::{DefaultBodyLimit, Form, Query, State};
use axum::http::header::{RETRY_AFTER, SET_COOKIE};
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use jiff::Timestamp;
use maud::{Markup, html};
use serde::Deserialize;
use store::people::{May, NewPass};

use super::super::frame::{hazard_line, outside};
use super::super::gate::{COOKIE_LIFE, Code, Gate, Peer, Wait, cookie_name, secret, until};
use super::show::{LONGEST_NAME, plain};
use super::{Extension, Fault, Frame, House, Router, Visitor};

/// No form of a stranger is larger, in bytes.
const LARGEST: usize = 8 * 1024;

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/login", get(login).post(log_in))
        .route("/pair", get(pair).post(pair_up))
        .route("/logout", post(log_out))
        .layer(DefaultBodyLimit::max(LARGEST))
}

#[derive(Debug, Default, Deserialize)]
struct After {
    #[serde(default)]
    after: String,
}

async fn login(frame: Frame, visitor: Visitor, Query(asked): Query<After>) -> Markup {
    login_page(&frame, &visitor, &asked.after, None)
}

#[derive(Deserialize)]
struct LogIn {
    #[serde(default)]
    name: String,
    #[serde(default)]
    password: String,
    #[serde(default)]
    after: String,
}

async fn log_in(
    State(house): State<House>,
    Extension(peer): Extension<Peer>,
    frame: Frame,
    visitor: Visitor,
    Form(form): Form<LogIn>,
) -> Result<Response, Fault> {
    let name = form.name.trim().to_owned();
    let kept = house.store.secret_of(&name).await?;
    match Gate::try_password(&house, &peer, form.password, kept).await {
        Ok(true) => {}
        Ok(false) => {
            let said = "Check the name and the password, and type them again. They do not fit.";
            let body = login_page(&frame, &visitor, &form.after, Some(said));
            return Ok((StatusCode::FORBIDDEN, body).into_response());
        }
        Err(Wait(wait)) => {
            let said = said_of_wait(wait);
            return Ok(wait_for(wait, &login_page(&frame, &visitor, &form.after, Some(&said))));
        }
    }
    let device = format!("browser at {}", peer.ip());
    let let_in = let_in(&house, &name, &device, (May::Operate, None)).await?;
    Ok(([(SET_COOKIE, let_in)], Redirect::to(place(&form.after))).into_response())
}

async fn pair(frame: Frame, visitor: Visitor) -> Markup {
    pair_page(&frame, &visitor, None)
}

#[derive(Debug, Deserialize)]
struct PairUp {
    #[serde(default)]
    code: String,
    #[serde(default)]
    device: String,
}

async fn pair_up(
    State(house): State<House>,
    Extension(peer): Extension<Peer>,
    frame: Frame,
    visitor: Visitor,
    Form(form): Form<PairUp>,
) -> Result<Response, Fault> {
    let now = Instant::now();
    if let Some(wait) = house.gate.wait(&peer, now) {
        let said = said_of_wait(wait);
        return Ok(wait_for(wait, &pair_page(&frame, &visitor, Some(&said))));
    }
    let Some(device) = plain(&form.device) else {
        let said = format!("Name the device in one line of {LONGEST_NAME} letters at most.");
        let body = pair_page(&frame, &visitor, Some(&said));
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, body).into_response());
    };
    let taken = house.gate.pairing().take(&form.code, now);
    let Some(code) = taken else {
        house.gate.wrong(&peer, now);
        let said = "Check the code and type it again, or have a new one made. It is not known, or \
                    not any more.";
        let body = pair_page(&frame, &visitor, Some(said));
        return Ok((StatusCode::FORBIDDEN, body).into_response());
    };
    house.gate.right(&peer);
    let record = code.record.as_deref();
    let let_in = let_in(&house, &code.person, &device, (code.may, record)).await?;
    Ok(([(SET_COOKIE, let_in)], Redirect::to(&begins_at(&house, &code))).into_response())
}

/// Where a device goes on that was let in: to its record, or to the one that is at work.
fn begins_at(house: &House, code: &Code) -> String {
    let at_work = house.hub.all_at_work();
    match (code.may, &code.record, &at_work[..]) {
        (May::FarEnd, Some(record), _) => format!("/far/{record}"),
        (May::Watch, _, [only]) => format!("/watch/{only}"),
        _ => "/".to_owned(),
    }
}

async fn log_out(State(house): State<House>, visitor: Visitor) -> Result<Response, Fault> {
    if let Visitor::Known(pass) = &visitor {
        house.store.take_back_pass(&pass.name).await?;
        house.gate.cut(&pass.name);
    }
    let name = cookie_name(house.gate.is_behind_tls());
    let gone = format!("{name}=; Path=/; Max-Age=0; HttpOnly; SameSite=Strict");
    Ok(([(SET_COOKIE, secured(&house, gone))], Redirect::to("/login")).into_response())
}

/// Lets a browser in; the cookie that it carries from now on.
async fn let_in(
    house: &House,
    person: &str,
    device: &str,
    (may, record): (May, Option<&str>),
) -> Result<String, Fault> {
    let (token, made) = (secret::token(), Timestamp::now());
    let until = until(made, made);
    house
        .store
        .keep_pass(&NewPass { token: &token, person, device, may, record, made, until })
        .await?;
    let name = cookie_name(house.gate.is_behind_tls());
    let text = secret::text(&token);
    let cookie = format!("{name}={text}; Path=/; Max-Age={COOKIE_LIFE}; HttpOnly; SameSite=Strict");
    Ok(secured(house, cookie))
}

fn secured(house: &House, cookie: String) -> String {
    if house.gate.is_behind_tls() { format!("{cookie}; Secure") } else { cookie }
}

fn said_of_wait(wait: Duration) -> String {
    format!("Wait {} s, then try again. There were several wrong tries.", seconds(wait))
}

fn wait_for(wait: Duration, body: &Markup) -> Response {
    let after = HeaderValue::from(seconds(wait));
    (StatusCode::TOO_MANY_REQUESTS, [(RETRY_AFTER, after)], body.clone()).into_response()
}

/// Whole seconds, never fewer than it takes.
fn seconds(wait: Duration) -> u64 {
    wait.as_secs() + u64::from(wait.subsec_nanos() > 0)
}

/// Where to go on: a place here, or today.
pub(super) fn place(after: &str) -> &str {
    let is_here = after.starts_with('/')
        && !after.starts_with("//")
        && after.len() <= 512
        && after.bytes().all(|byte| byte.is_ascii_graphic() && byte != b'\\');
    if is_here { after } else { "/" }
}

fn login_page(frame: &Frame, visitor: &Visitor, after: &str, said: Option<&str>) -> Markup {
    let body = html! {
        (hazardous(frame, visitor))
        h1 { "Log in" }
        (refusal(said))
        form .entry method="post" action="/login" {
            input type="hidden" name="after" value=(place(after));
            label for="name" { "Name" }
            input #name name="name" required autocomplete="username" autocapitalize="none"
                spellcheck="false" maxlength=(LONGEST_NAME);
            label for="password" { "Password" }
            input #password name="password" type="password" required
                autocomplete="current-password" maxlength=(secret::MOST);
            p { button .first { "Log in" } }
        }
        p { "A tablet without a password: " a .button href="/pair" { "Pair it with a code" } }
    };
    outside(frame.theme, "Log in", &body)
}

fn pair_page(frame: &Frame, visitor: &Visitor, said: Option<&str>) -> Markup {
    let body = html! {
        (hazardous(frame, visitor))
        h1 { "Pair this device" }
        p { "Have a code made on the page People of a device that is logged in." }
        (refusal(said))
        form .entry method="post" action="/pair" {
            label for="code" { "Code" }
            input #code .pairing-code name="code" required autocomplete="one-time-code"
                autocapitalize="characters" spellcheck="false" maxlength="16";
            label for="device" { "A name for this device, such as: tablet of bay 3" }
            input #device name="device" required autocomplete="off" maxlength=(LONGEST_NAME);
            p { button .first { "Pair" } }
        }
        p { a .button href="/login" { "Log in with a password" } }
    };
    outside(frame.theme, "Pair this device", &body)
}

fn refusal(said: Option<&str>) -> Markup {
    html! { @if let Some(said) = said { p .refusal role="alert" { (said) } } }
}

/// Whoever stands here is warned before they are known; which object it is, is told after.
fn hazardous(frame: &Frame, visitor: &Visitor) -> Markup {
    let unknown = matches!(visitor, Visitor::Stranger);
    html! {
        @if unknown && !frame.hazards.is_empty() {
            p .hazard {
                span .shape aria-hidden="true" { "▲" } " "
                strong { "HAZARDOUS" } " voltage on a test object. Stay away; log in to see which."
            }
        } @else {
            (hazard_line(&frame.hazards))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_login_leads_on_to_a_place_here_alone() {
        let check = |after: &str, expected: &str| assert_eq!(place(after), expected, "{after}");
        check("/sheet/0198?x=1", "/sheet/0198?x=1");
        for bad in ["", "//evil.test", "/\\evil.test", "http://evil.test", "/a\r\nb", "/ä"] {
            check(bad, "/");
        }
        check(&format!("/{}", "a".repeat(512)), "/");
    }

    #[test]
    fn a_wait_is_told_in_whole_seconds_that_are_enough() {
        assert_eq!(seconds(Duration::from_millis(1)), 1);
        assert_eq!(seconds(Duration::from_secs(2)), 2);
        assert_eq!(seconds(Duration::from_millis(2001)), 3);
    }
}
