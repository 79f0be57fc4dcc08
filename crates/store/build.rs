//! The migrations are read at compile time; without this a new file would not be noticed.

fn main() {
    println!("cargo:rerun-if-changed=../../migrations");
}
