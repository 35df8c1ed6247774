//! What `strace -f -y` wrote, and whether the disk came before each acknowledgement.

/// What happened, in the order of the trace.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Deed {
    /// A line came through the pipe, or a practice set said who it is.
    Told,
    /// Something went to the database's log.
    Logged,
    /// The log is on the disk.
    Flushed,
    /// An acknowledgement goes out.
    Acknowledged,
}

/// The deeds in a trace: a write counts from its beginning, a flush and a reading from their end.
pub(crate) fn deeds(trace: &str) -> Vec<Deed> {
    // What a thread has begun and not ended, where others came between: `fdatasync(…`.
    let mut open: Vec<(&str, &str)> = Vec::new();
    let mut deeds = Vec::new();
    for line in trace.lines() {
        let Some((thread, call)) = line.split_once(' ') else { continue };
        let call = call.trim_start();
        if let Some(rest) = call.strip_prefix("<... ") {
            let Some(at) = open.iter().position(|(known, _)| *known == thread) else { continue };
            let (_, begun) = open.remove(at);
            if flushes(begun) && succeeded(rest) {
                deeds.push(Deed::Flushed);
            } else if tells(begun, rest) {
                deeds.push(Deed::Told);
            }
            continue;
        }
        let unfinished = call.contains("<unfinished ...>");
        if unfinished {
            open.push((thread, call));
        }
        if acknowledges(call) {
            deeds.push(Deed::Acknowledged);
        } else if logs(call) {
            deeds.push(Deed::Logged);
        } else if flushes(call) && !unfinished && succeeded(call) {
            deeds.push(Deed::Flushed);
        } else if !unfinished && tells(call, call) {
            deeds.push(Deed::Told);
        }
    }
    deeds
}

fn tells(begun: &str, ended: &str) -> bool {
    let line = begun.starts_with("read(0<") && ended.contains("\\n\"");
    line || (begun.starts_with("recvfrom(") && ended.contains("SIMULATED"))
}

fn is_log(call: &str) -> bool {
    call.split_once('>').is_some_and(|(file, _)| file.ends_with("-wal"))
}

fn logs(call: &str) -> bool {
    ["pwrite64(", "pwritev(", "write(", "writev("].iter().any(|name| call.starts_with(name))
        && is_log(call)
}

fn flushes(call: &str) -> bool {
    (call.starts_with("fdatasync(") || call.starts_with("fsync(")) && is_log(call)
}

fn acknowledges(call: &str) -> bool {
    call.starts_with("write(1<") && call.contains("{\\\"kept\\\"")
}

fn succeeded(call: &str) -> bool {
    call.trim_end().ends_with("= 0")
}

/// Whether each acknowledgement comes after a flush of what was logged since the last line came,
/// with nothing in the log behind that flush. Holds where lines come one at a time.
pub(crate) fn each_flushed(deeds: &[Deed]) -> Result<usize, String> {
    let (mut acknowledged, mut flushed, mut behind) = (0, false, false);
    for deed in deeds {
        match deed {
            Deed::Told => flushed = false,
            Deed::Logged => behind = true,
            Deed::Flushed => (flushed, behind) = (flushed || behind, false),
            Deed::Acknowledged => {
                acknowledged += 1;
                if !flushed {
                    return Err(format!("no flush before acknowledgement {acknowledged}"));
                }
                if behind {
                    return Err(format!("unflushed log at acknowledgement {acknowledged}"));
                }
                flushed = false;
            }
        }
    }
    Ok(acknowledged)
}

/// Whether, once the set had said who it is, there never were more acknowledgements than flushes
/// that had something to flush; the first of these is that of what the record begins with. Holds
/// also where the next events are kept while an acknowledgement goes out.
pub(crate) fn as_often_flushed(deeds: &[Deed]) -> Result<usize, String> {
    let begun = deeds.iter().position(|deed| *deed == Deed::Told).ok_or("no set said who it is")?;
    let (mut acknowledged, mut flushes, mut behind) = (0_usize, 0_usize, false);
    for deed in &deeds[begun..] {
        match deed {
            Deed::Told => {}
            Deed::Logged => behind = true,
            Deed::Flushed => {
                flushes += usize::from(behind);
                behind = false;
            }
            Deed::Acknowledged => {
                acknowledged += 1;
                if acknowledged >= flushes {
                    return Err(format!("acknowledgement {acknowledged} after {flushes} flushes"));
                }
            }
        }
    }
    Ok(acknowledged)
}

#[cfg(test)]
mod tests {
    use super::*;

    const LOG: &str = "100 pwrite64(9</t/records.db-wal>, \"7\\177\"..., 4096, 32) = 4096\n";
    const FLUSH: &str = "100 fdatasync(9</t/records.db-wal>) = 0\n";
    const FAILED: &str = "100 fdatasync(9</t/records.db-wal>) = -1 EIO (Input/output error)\n";
    const OTHER: &str = "100 fdatasync(8</t/records.db>) = 0\n";
    const TELL: &str =
        "99 write(1<pipe:[4]>, \"{\\\"kept\\\": 3, \\\"readings\\\": 2}\\n\", 30) = 30\n";
    const LINE: &str = "98 read(0<pipe:[3]>, \"@A tool\\n\", 8192) = 8\n";
    const WAITS: &str = "98 read(0<pipe:[3]>,  <unfinished ...>\n";
    const CAME: &str = "98 <... read resumed>\"@A tool\\n\", 8192) = 8\n";
    const SET: &str = "99 recvfrom(7<TCP:[1]>, \"Ohmstead,Practice set,SIMULATED,0\\n\") = 34\n";
    const BEGUN: &str = "100 fdatasync(9</t/records.db-wal> <unfinished ...>\n";
    const ENDED: &str = "100 <... fdatasync resumed>) = 0\n";

    #[test]
    fn a_flush_that_is_missing_failed_late_or_of_another_file_is_found() {
        let check = |trace: &[&str], expected: bool| {
            let trace = trace.concat();
            assert_eq!(each_flushed(&deeds(&trace)).is_ok(), expected, "{trace}");
        };
        check(&[LOG, FLUSH, TELL, LOG, FLUSH, TELL], true);
        check(&[LOG, BEGUN, ENDED, TELL], true);
        check(&[LOG, LOG, FLUSH, TELL], true);
        check(&[LOG, TELL], false);
        check(&[LOG, TELL, FLUSH], false);
        check(&[LOG, FLUSH, TELL, LOG, TELL], false);
        check(&[LOG, FLUSH, TELL, TELL], false);
        check(&[LOG, FLUSH, LOG, TELL], false);
        check(&[LOG, FAILED, TELL], false);
        check(&[LOG, OTHER, TELL], false);
        check(&[LOG, BEGUN, TELL, ENDED], false);
        check(&[LINE, LOG, FLUSH, TELL, WAITS, CAME, LOG, FLUSH, TELL], true);
        // Each one acknowledged before its own flush, which is then taken for the next one's.
        check(&[LOG, FLUSH, LINE, TELL, LOG, FLUSH], false);
        check(&[LOG, FLUSH, WAITS, CAME, TELL, LOG, FLUSH], false);
        check(&[LINE, FLUSH, TELL], false);
    }

    #[test]
    fn more_acknowledgements_than_flushes_are_found() {
        let check = |trace: &[&str], expected: bool| {
            let trace = trace.concat();
            assert_eq!(as_often_flushed(&deeds(&trace)).is_ok(), expected, "{trace}");
        };
        check(&[SET, LOG, FLUSH, LOG, FLUSH, LOG, FLUSH, TELL, TELL], true);
        check(&[SET, LOG, FLUSH, LOG, FLUSH, LOG, TELL], true);
        check(&[SET, LOG, FLUSH, LOG, FLUSH, FLUSH, TELL, TELL], false);
        check(&[LOG, FLUSH, SET, LOG, FLUSH, TELL, LOG, FLUSH], false);
        check(&[LOG, FLUSH, LOG, FLUSH, TELL], false);
    }

    #[test]
    fn every_acknowledgement_is_counted() {
        let trace = [LOG, FLUSH, TELL].concat();
        assert_eq!(deeds(&trace), [Deed::Logged, Deed::Flushed, Deed::Acknowledged]);
        assert_eq!(each_flushed(&deeds(&trace)), Ok(1));
    }
}
