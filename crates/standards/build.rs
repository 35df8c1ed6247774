//! Embedded data is no Rust source, so cargo is told to look at it.

fn main() {
    println!("cargo:rerun-if-changed=data");
}
