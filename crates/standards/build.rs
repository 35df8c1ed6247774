//! A table added to the data folder is embedded at the next build.

fn main() {
    println!("cargo::rerun-if-changed=data");
}
