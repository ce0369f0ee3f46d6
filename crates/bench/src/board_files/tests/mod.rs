//! One made-up board in every format (`tests/data/boards`), faults with their places, damage, merging and export.

mod damage;
mod examples;
mod exported;
mod faults;
mod merging;

use std::{fs, path::Path};

use super::{Choices, Design, read};

fn bytes(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/boards");
    fs::read(folder.join(name)).unwrap()
}

fn example(name: &str) -> Design {
    read(Path::new(name), &bytes(name), &Choices::default()).unwrap()
}

fn text(name: &str, content: &str) -> Result<Design, String> {
    read(Path::new(name), content.as_bytes(), &Choices::default()).map_err(|e| e.to_string())
}
