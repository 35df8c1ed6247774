//! Checks over every table at once.

use crate::Library;

#[test]
fn the_embedded_tables_load() {
    assert!(Library::published().tables().count() > 0);
}
