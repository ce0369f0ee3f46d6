//! The shape of the workspace: exactly three crates, and which of them may know what.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use cargo_metadata::{Metadata, MetadataCommand};

fn metadata() -> Metadata {
    MetadataCommand::new().manifest_path(concat!(env!("CARGO_MANIFEST_DIR"), "/../../Cargo.toml")).exec().unwrap()
}

/// Everything that a workspace crate pulls in for a normal build, itself left out.
fn reachable(metadata: &Metadata, name: &str) -> BTreeSet<String> {
    let resolve = metadata.resolve.as_ref().unwrap();
    let names: BTreeMap<_, _> = metadata.packages.iter().map(|p| (&p.id, p.name.to_string())).collect();
    let start = &metadata.packages.iter().find(|p| *p.name == name).unwrap().id;
    let mut queue = VecDeque::from([start]);
    let mut seen = BTreeSet::new();
    while let Some(id) = queue.pop_front() {
        let node = resolve.nodes.iter().find(|n| &n.id == id).unwrap();
        for dependency in &node.deps {
            let normal = dependency.dep_kinds.iter().any(|k| k.kind == cargo_metadata::DependencyKind::Normal);
            if normal && seen.insert(names[&dependency.pkg].clone()) {
                queue.push_back(&dependency.pkg);
            }
        }
    }
    seen
}

#[test]
fn there_are_exactly_three_crates() {
    let metadata = metadata();
    let names: BTreeSet<String> = metadata.workspace_packages().iter().map(|p| p.name.to_string()).collect();
    assert_eq!(names, ["joulemark", "joulemark-frames", "joulemark-locate"].map(String::from).into());
}

#[test]
fn the_computation_knows_no_screen_and_no_files() {
    let direct: BTreeSet<String> = metadata()
        .packages
        .iter()
        .find(|p| *p.name == "joulemark-locate")
        .unwrap()
        .dependencies
        .iter()
        .filter(|d| d.kind == cargo_metadata::DependencyKind::Normal)
        .map(|d| d.name.clone())
        .collect();
    for name in ["csv", "image", "png", "ron", "serde_json", "tempfile", "tiff", "zip"] {
        assert!(!direct.contains(name), "joulemark-locate depends on {name}");
    }
    let all = reachable(&metadata(), "joulemark-locate");
    for name in ["egui", "eframe", "egui_plot", "rfd", "clap", "joulemark"] {
        assert!(!all.contains(name), "joulemark-locate reaches {name}");
    }
}

/// Reading and writing through the standard library needs no dependency, so the sources are looked at too.
#[test]
fn the_computation_opens_nothing() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../locate/src");
    let mut folders = vec![std::path::PathBuf::from(root)];
    let mut files = 0;
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                // Tests may read how many seeds they shall run.
                if path.file_name().is_some_and(|name| name != "tests") {
                    folders.push(path);
                }
                continue;
            }
            files += 1;
            let text = std::fs::read_to_string(&path).unwrap();
            for word in [
                "std::fs",
                "std::net",
                "std::process",
                "std::env",
                "File::open",
                "joulemark_frames::read",
                "joulemark_frames::write",
            ] {
                assert!(!text.contains(word), "{} uses {word}", path.display());
            }
        }
    }
    assert!(files > 10, "looked at {files} files only");
}

#[test]
fn the_readers_know_no_board() {
    let all = reachable(&metadata(), "joulemark-frames");
    for name in ["joulemark-locate", "joulemark", "egui", "eframe", "clap"] {
        assert!(!all.contains(name), "joulemark-frames reaches {name}");
    }
}
