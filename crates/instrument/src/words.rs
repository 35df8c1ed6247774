//! What a person reads when a meter does not answer: first what to do now, then what it is.

use std::fmt;

use crate::address::{AddressError, USUAL_BAUD};
use crate::framer::FrameFault;
use crate::meter::{AskError, Garble, Loss, OpenError};
use crate::number::NumberFault;
use crate::query::NotAQuery;
use crate::registers::RegisterError;

impl fmt::Display for AddressError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Kind { found } => {
                write!(f, "write tcp:HOST:PORT or serial:DEVICE[:BAUD] instead of `{found}`")
            }
            Self::Host { found } => write!(
                f,
                "write tcp:HOST:PORT, an IPv6 number in brackets as in tcp:[::1]:5025; \
                 `{found}` names no host"
            ),
            Self::Port { host, found } => {
                write!(f, "write tcp:{host}:PORT with a port from 1 to 65535; `{found}` is none")
            }
            Self::Device => {
                write!(f, "write serial:DEVICE[:BAUD], for example serial:/dev/ttyUSB0:9600")
            }
            Self::Baud { device, found } => write!(
                f,
                "write serial:{device}:{USUAL_BAUD}, or the rate that the meter is set to; \
                 `{found}` is no rate"
            ),
        }
    }
}

impl fmt::Display for OpenError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Name { host } => {
                write!(f, "write the meter's number instead of its name; `{host}` is not known")
            }
            Self::Connect { address, kind } => write!(
                f,
                "look whether the meter is on, its cable in and its port right; \
                 {address} does not answer ({kind})"
            ),
            Self::Device { device, kind } => write!(
                f,
                "look whether the cable is in, the path right, the line free and yours to use; \
                 {device} does not open ({kind})"
            ),
        }
    }
}

impl fmt::Display for RegisterError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoSocket => write!(f, "write tcp:HOST:PORT: a logger is asked over a socket"),
            Self::Wire { kind } => write!(f, "the logger does not answer ({kind})"),
            Self::Refused { code } => {
                write!(f, "look up the register in the logger's sheet: it refuses with code {code}")
            }
            Self::Otherwise => write!(f, "what came is no answer to the question"),
        }
    }
}

impl fmt::Display for Loss {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Closed => write!(f, "the meter ended the connection"),
            Self::MidAnswer { bytes } => {
                write!(f, "the connection ended in the middle of an answer, after {bytes} bytes")
            }
            Self::OutOfStep => write!(f, "the meter gives no answer that belongs to a question"),
            Self::Line { kind } => write!(f, "the line to the meter failed ({kind})"),
            Self::NotOpen => write!(f, "the meter is not connected"),
        }
    }
}

impl fmt::Display for FrameFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLong { longest, start } => {
                write!(f, "`{start}` goes on past {longest} bytes")
            }
            Self::NotText { start } => write!(f, "`{start}` is no text"),
            Self::BlockHead { start } => write!(f, "`{start}` begins a block without a length"),
            Self::BlockEnd => write!(f, "a block is longer than it says"),
        }
    }
}

impl fmt::Display for NumberFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "nothing stands where a number should"),
            Self::Unit { number, unit } => {
                write!(f, "`{unit}` follows the number {number}; set the meter to send it alone")
            }
            Self::Several { first } => write!(
                f,
                "more follows {first} and a comma; set the meter to send one number, \
                 with a point"
            ),
            Self::NotFinite => write!(f, "it is a number without bound"),
            Self::Other => write!(f, "it is no number"),
        }
    }
}

impl fmt::Display for Garble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Frame(fault) => fault.fmt(f),
            Self::Number(fault) => fault.fmt(f),
            Self::Block => write!(f, "it is a block of bytes"),
        }
    }
}

impl fmt::Display for NotAQuery {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoQuestion { line } => {
                write!(f, "write a question that ends in `?`; `{line}` is none and is not sent")
            }
            Self::Several { line } => {
                write!(f, "write one question alone; `{line}` is not sent")
            }
            Self::Acts { line } => write!(
                f,
                "write a question that only reads; `{line}` makes the meter act and is not sent"
            ),
        }
    }
}

impl fmt::Display for AskError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotSent(why) => why.fmt(f),
            Self::TimedOut { query, after } => write!(
                f,
                "read the needles and write by hand; no answer to `{query}` in {:.1} s",
                after.as_secs_f64()
            ),
            Self::Lost(loss) => write!(f, "read the needles and write by hand; {loss}"),
            Self::Garbled { sent, fault } => {
                write!(f, "read the needles and write by hand; the meter sent `{sent}`: {fault}")
            }
            Self::Stopped => write!(f, "the wait for an answer was ended"),
        }
    }
}
