//! This laptop meets its office: what either lacks moves over one connection, a bounded batch at a
//! time, and a cut loses only the batch under way.

pub(crate) mod address;
pub(crate) mod said;
mod walk;
mod wire;

pub(crate) use address::Address;
pub(crate) use walk::{Asked, Ended, Fetch, Progress, ToMove, meet};
pub(crate) use wire::WireError;

use crate::meet::said::PairedAs;
use wire::Wire;

/// Has this laptop let in at the office by a code; what it carries to be known there from now on.
pub(crate) async fn pair(
    address: &Address,
    code: &str,
    device: &str,
) -> Result<[u8; 32], WireError> {
    let mut wire = Wire::new(address.clone(), None);
    let asked = said::PairUp { code: code.to_owned(), device: device.to_owned() };
    let paired: PairedAs = wire.ask("/exchange/pair", Some(&asked)).await?;
    crate::web::secret::token_of(&paired.token).ok_or_else(|| WireError::Foreign {
        said: "it answered the code with something that is no pass".to_owned(),
    })
}
