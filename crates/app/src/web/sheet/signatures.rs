//! Section 7: who puts their name to it, as what, and to what exactly.

use axum::extract::{Form, Path, State};
use axum::response::Redirect;
use maud::{Markup, html};
use serde::Deserialize;
use store::Signature;
use store::signatures::{Role, Signing};
use store::trouble::SignError;

use super::state::{Section, Sheet};
use crate::show;
use crate::show::signed::{older, role};
use crate::web::{Fault, House};

pub(super) fn line(sheet: &Sheet) -> String {
    if sheet.signatures.is_empty() {
        return "Nobody has signed".to_owned();
    }
    let told = sheet.signatures.iter().map(|one| {
        let old = changed(sheet, one).map_or("", |_| ", OLDER");
        format!("{} {}{old}", one.name, role(&one.role))
    });
    told.collect::<Vec<_>>().join("; ")
}

pub(super) fn under(sheet: &Sheet) -> Markup {
    html! {
        @if !sheet.signatures.is_empty() { (list(sheet)) }
        @if !sheet.broken.is_empty() {
            p { strong { "Nothing is signed while seals do not hold." } }
        } @else if sheet.is_over() {
            (form(sheet))
        } @else {
            p { "It is signed when the record is closed." }
        }
    }
}

fn list(sheet: &Sheet) -> Markup {
    html! {
        div .scroll tabindex="0" role="region" aria-label="Signatures" {
            table {
                thead { tr {
                    th scope="col" { "name" } th scope="col" { "as who" }
                    th scope="col" { "signed" } th scope="col" { "what" }
                    th scope="col" { "remark" }
                } }
                tbody { @for one in &sheet.signatures { tr {
                    th scope="row" { (one.name) }
                    td { (role(&one.role)) }
                    td .number { (show::records::moment(one.signed)) }
                    td {
                        (what(sheet, &one.code, one.findings.as_deref()))
                        @if let Some(why) = changed(sheet, one) {
                            " " strong { "OLDER: " (why) }
                        }
                    }
                    td { (one.remark.as_deref().unwrap_or_default()) }
                } } }
            }
        }
    }
}

/// What has changed since it was given.
fn changed(sheet: &Sheet, one: &Signature) -> Option<&'static str> {
    older(one, &sheet.code, |id| sheet.stands(id))
}

/// Exactly what a name is put to.
fn what(sheet: &Sheet, code: &str, findings: Option<&str>) -> String {
    let codes: Vec<String> =
        code.split(' ').map(|one| one.get(..8).unwrap_or(one).to_owned()).collect();
    let kept = findings.and_then(|id| sheet.kept.iter().find(|one| one.id == id));
    let verdict = kept.map_or_else(
        || "no findings".to_owned(),
        |one| format!("{} of {}", one.verdict.to_uppercase(), show::records::moment(one.judged)),
    );
    format!("{verdict}, record {}", codes.join(" "))
}

fn form(sheet: &Sheet) -> Markup {
    let findings = sheet.kept.last().map(|one| one.id.as_str());
    html! {
        form .sign method="post" action={ "/sheet/" (sheet.id) "/sign" } {
            h3 { "Put your name to it" }
            p { "You sign: " strong { (what(sheet, &sheet.code, findings)) } "." }
            input type="hidden" name="code" value=(sheet.code);
            @if let Some(findings) = findings {
                input type="hidden" name="findings" value=(findings);
            }
            label { "Name"
                input #sign-name name="name" autocomplete="name" required
                    value=[sheet.who.as_deref()];
            }
            fieldset .choices {
                legend { "As who" }
                @for (index, one) in Role::ALL.iter().enumerate() {
                    label { input type="radio" name="role" value=(one.key()) required
                        checked[index == 0]; " " (role(one.key())) }
                }
            }
            label { "Remark, if any" input #sign-remark name="remark" autocomplete="off"; }
            button .first { "I sign" }
        }
    }
}

/// A name as the form sends it.
#[derive(Deserialize)]
pub(super) struct Signs {
    name: String,
    role: String,
    #[serde(default)]
    remark: String,
    code: String,
    findings: Option<String>,
}

/// Keeps a signature.
pub(super) async fn sign(
    State(house): State<House>,
    Path(id): Path<String>,
    Form(signs): Form<Signs>,
) -> Result<Redirect, Fault> {
    let id = house.store.resolve(&id).await?;
    let role = Role::of(&signs.role).ok_or_else(|| Fault::Refused {
        remedy: "Go back and choose as who you sign".to_owned(),
        detail: format!("\"{}\" is none that is known", signs.role),
    })?;
    if let Some(first) = house.store.verify(&id).await?.first() {
        return Err(Fault::Refused {
            remedy: "Go by the paper, or by a copy whose seals hold; nothing was signed".to_owned(),
            detail: first.to_string(),
        });
    }
    let signing = Signing {
        name: &signs.name,
        role,
        remark: Some(&signs.remark),
        code: &signs.code,
        findings: signs.findings.as_deref(),
    };
    house.store.sign(&id, &signing, house.clock.now().wall).await.map_err(refused)?;
    Ok(Redirect::to(&format!("/sheet/{id}#{}", Section::Signatures.key())))
}

fn refused(error: SignError) -> Fault {
    match error {
        SignError::Read(error) => error.into(),
        SignError::NoRecord { record } => Fault::NotFound { what: format!("record {record}") },
        other => {
            Fault::Refused { remedy: other.to_string(), detail: "nothing was signed".to_owned() }
        }
    }
}
