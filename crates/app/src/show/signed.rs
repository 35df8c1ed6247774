//! Signatures as they are told, on a page and on paper.

use report::document::Signed;
use store::Signature;
use store::signatures::Role;

use super::records::moment;

/// As what somebody signs.
pub(crate) fn role(key: &str) -> &str {
    match Role::of(key) {
        Some(Role::Tester) => "ran the test",
        Some(Role::Witness) => "saw the test",
        Some(Role::Approver) => "answers for the verdict",
        None => key,
    }
}

/// A signature in words; `same` says of findings whether they are those that stand now.
pub(crate) fn printed(one: &Signature, code: &str, same: impl Fn(&str) -> bool) -> Signed {
    Signed {
        name: one.name.clone(),
        role: role(&one.role).to_owned(),
        signed: moment(one.signed),
        remark: one.remark.clone(),
        older: older(one, code, same),
    }
}

/// What has changed since it was given; `None` where nothing has.
pub(crate) fn older(
    one: &Signature,
    code: &str,
    same: impl Fn(&str) -> bool,
) -> Option<&'static str> {
    if one.code != code {
        Some("the record went on since")
    } else if one.findings.as_deref().is_some_and(|id| !same(id)) {
        Some("judged anew since, with other findings")
    } else {
        None
    }
}
