//! What may be sent. The wire carries questions; nothing that goes over it switches anything.

/// Asks who a meter is (IEEE 488.2-1992; from memory, unverified).
pub const IDENTITY: &str = "*IDN?";

/// Asks for the next entry of a meter's list of errors (SCPI-1999; from memory, unverified).
/// Its answer looks like no other one, so it also shows where the answers stand.
pub const NEXT_ERROR: &str = "SYST:ERR?";

/// Empties that list. The one line that is no question.
pub const CLEAR: &str = "*CLS";

/// Asks for the voltage where the job names no query of its own.
pub const VOLTAGE: &str = "MEAS:VOLT:DC?";

/// Asks for the current where the job names no query of its own.
pub const CURRENT: &str = "MEAS:CURR:DC?";

/// Questions that make a meter do something: its self-test and its own calibration.
const ACTING: &[&str] = &["*TST", "*CAL", "CAL", "CALIBRATION", "TEST", "DIAG", "DIAGNOSTIC"];

/// Why a line is not sent.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAQuery {
    /// It is no question.
    NoQuestion {
        /// The line.
        line: String,
    },
    /// There is more than one message in it.
    Several {
        /// The line.
        line: String,
    },
    /// The question makes the meter act.
    Acts {
        /// The line.
        line: String,
    },
}

/// Whether the line is one question that may be sent: words of letters, digits and underscores,
/// parted by colons, then a question mark, then perhaps a blank and parameters.
///
/// # Errors
///
/// When it is a command, several messages or a question that makes the meter act.
pub fn check(line: &str) -> Result<(), NotAQuery> {
    let owned = || line.to_owned();
    if line.contains([';', '\n', '\r', '\0']) {
        return Err(NotAQuery::Several { line: owned() });
    }
    let no_question = || NotAQuery::NoQuestion { line: owned() };
    let (head, parameters) = line.split_once('?').ok_or_else(no_question)?;
    let body = head.strip_prefix(['*', ':']).unwrap_or(head);
    let is_word = |word: &str| {
        word.starts_with(|first: char| first.is_ascii_alphabetic())
            && word.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'_')
    };
    let plain = parameters.bytes().all(|byte| byte == b' ' || byte.is_ascii_graphic());
    let parted = parameters.is_empty() || parameters.starts_with(' ');
    if !body.split(':').all(is_word) || !plain || !parted || parameters.contains('?') {
        return Err(no_question());
    }
    let first = head.trim_start_matches(':').split(':').next().unwrap_or_default();
    let first = first.trim_end_matches(|last: char| last.is_ascii_digit());
    if ACTING.iter().any(|acting| first.eq_ignore_ascii_case(acting)) {
        return Err(NotAQuery::Acts { line: owned() });
    }
    Ok(())
}

/// Whether a line is an entry of a list of errors: a whole number, a comma, a text in quotes.
/// Gives the number; zero is the end of the list.
pub(crate) fn error_entry(line: &str) -> Option<i32> {
    let (code, text) = line.split_once(',')?;
    let text = text.trim();
    let quoted = text.len() >= 2 && text.starts_with('"') && text.ends_with('"');
    quoted.then(|| code.trim().parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn questions_pass() {
        for line in [IDENTITY, NEXT_ERROR, VOLTAGE, CURRENT] {
            assert_eq!(check(line), Ok(()), "{line}");
        }
        for line in ["READ?", ":FETC:VOLT?", "MEAS:VOLT:DC? 100,0.001", "KV?", "CH_1:V?"] {
            assert_eq!(check(line), Ok(()), "{line}");
        }
        assert_eq!(check("SYST:PRAC:ADV? 0.5"), Ok(()));
    }

    #[test]
    fn what_switches_or_sets_does_not_pass() {
        let no_question = |line: &str| Err(NotAQuery::NoQuestion { line: line.to_owned() });
        for line in
            ["", "?", "*RST", "*CLS", "OUTP ON", "VOLT 100", "TRIP?ON", "VOLT 1?", "VOLT? ?", "A:?"]
        {
            assert_eq!(check(line), no_question(line), "{line}");
        }
        for line in ["VOLT 100;MEAS:VOLT?", "MEAS:VOLT?;OUTP ON", "MEAS:VOLT?\nOUTP ON"] {
            assert_eq!(check(line), Err(NotAQuery::Several { line: line.to_owned() }), "{line}");
        }
        for line in ["*TST?", "*cal?", "CAL:ALL?", ":test:rom?", "DIAG1:RUN?"] {
            assert_eq!(check(line), Err(NotAQuery::Acts { line: line.to_owned() }), "{line}");
        }
    }

    #[test]
    fn an_entry_of_the_error_list_is_like_no_reading() {
        for (line, expected) in [
            ("0,\"No error\"", Some(0)),
            ("+0, \"No error\"", Some(0)),
            ("-113,\"Undefined header;X?\"", Some(-113)),
            ("1.5", None),
            ("1.5,\"V\"", None),
            ("0,No error", None),
            ("0,\"", None),
            ("A,B,C", None),
        ] {
            assert_eq!(error_entry(line), expected, "{line}");
        }
    }
}
