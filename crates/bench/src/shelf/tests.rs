use joulemark_locate::board::{Face, Part, Rail};

use super::*;

fn board(name: &str, rails: &[&str]) -> Board {
    let rail = |name: &&str| Rail { name: (*name).to_owned(), nominal_volts: None };
    Board {
        name: name.into(),
        faces: vec![Face {
            name: "top".into(),
            outline: vec![[0.0, 0.0], [60.0, 0.0], [60.0, 40.0]],
            parts: vec![Part {
                designator: "C1".into(),
                width_mm: 1.0 / 3.0,
                height_mm: 0.5,
                rails: rails.iter().take(1).map(|r| (*r).to_owned()).collect(),
                ..Part::default()
            }],
            ..Face::default()
        }],
        rails: rails.iter().map(rail).collect(),
    }
}

#[test]
fn versions_are_kept_and_an_unchanged_drawing_writes_none() {
    let folder = tempfile::tempdir().unwrap();
    let shelf = Shelf::at(folder.path().join("deep/shelf"));
    assert_eq!(shelf.list().unwrap(), (Vec::new(), Vec::new()));
    let first = board("Buoy radio, rev. 2", &["V12"]);
    let mut second = first.clone();
    second.faces[0].parts[0].x_mm = 7.25;
    let saved = |version, written| Saved { id: "buoy-radio-rev-2".into(), version, written };
    assert_eq!(shelf.save(&first).unwrap(), saved(1, true));
    assert_eq!(shelf.save(&first).unwrap(), saved(1, false));
    assert_eq!(shelf.save(&second).unwrap(), saved(2, true));
    assert_eq!(shelf.save(&first).unwrap(), saved(3, true));
    assert_eq!(shelf.versions("buoy-radio-rev-2").unwrap(), [1, 2, 3]);
    assert_eq!(shelf.load("buoy-radio-rev-2", Some(2)).unwrap(), second);
    assert_eq!(shelf.load("buoy-radio-rev-2", None).unwrap(), first);
    // Nothing is left beside the versions.
    assert_eq!(fs::read_dir(shelf.folder().join("buoy-radio-rev-2")).unwrap().count(), 3);
}

#[test]
fn names_that_share_a_folder_name_stay_apart() {
    let folder = tempfile::tempdir().unwrap();
    let shelf = Shelf::at(folder.path());
    assert_eq!(shelf.save(&board("Buoy/radio", &[])).unwrap().id, "buoy-radio");
    assert_eq!(shelf.save(&board("buoy radio", &[])).unwrap().id, "buoy-radio-2");
    let mut changed = board("buoy radio", &[]);
    changed.faces[0].parts.clear();
    let saved = shelf.save(&changed).unwrap();
    assert_eq!((saved.id.as_str(), saved.version), ("buoy-radio-2", 2));
    assert_eq!(["Con", "???", "COM1", "../.."].map(slug), ["board-con", "board", "board-com1", "board"]);
}

#[test]
fn search_looks_at_names_and_rails() {
    let folder = tempfile::tempdir().unwrap();
    let shelf = Shelf::at(folder.path());
    for (name, rails) in [("Wind head", &["V12", "V5"][..]), ("Buoy radio", &["VRF"]), ("V5 tester", &[])] {
        shelf.save(&board(name, rails)).unwrap();
    }
    let names = |words: &str| shelf.search(words).unwrap().into_iter().map(|e| e.name).collect::<Vec<_>>();
    assert_eq!(names("v5"), ["V5 tester", "Wind head"]);
    assert_eq!(names("wind v12"), ["Wind head"]);
    assert_eq!(names(""), ["Buoy radio", "V5 tester", "Wind head"]);
    assert!(names("keel").is_empty());
}

#[test]
fn damage_is_said_and_hides_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let shelf = Shelf::at(folder.path());
    shelf.save(&board("Wind head", &[])).unwrap();
    shelf.save(&board("Buoy radio", &[])).unwrap();
    fs::write(folder.path().join("buoy-radio/0002.json"), "{").unwrap();
    let (entries, damaged) = shelf.list().unwrap();
    assert_eq!(entries.iter().map(|e| e.name.as_str()).collect::<Vec<_>>(), ["Wind head"]);
    assert!(damaged.len() == 1 && damaged[0].contains("0002.json: 1:"), "{damaged:?}");
    assert_eq!(shelf.load("buoy-radio", Some(1)).unwrap().name, "Buoy radio");
    // A new drawing of that name does not bury the damaged one.
    assert_eq!(shelf.save(&board("Buoy radio", &[])).unwrap().id, "buoy-radio-2");
}

#[test]
fn nothing_outside_the_shelf_is_read_and_nothing_unfit_saved() {
    let folder = tempfile::tempdir().unwrap();
    let shelf = Shelf::at(folder.path().join("shelf"));
    shelf.save(&board("x", &[])).unwrap();
    for id in ["..", "../shelf/x", "", ".", "/etc"] {
        assert!(shelf.load(id, None).unwrap_err().to_string().contains("no such drawing"), "{id}");
    }
    assert!(shelf.save(&board(" ", &[])).unwrap_err().to_string().contains("name it first"));
    let mut open = board("y", &[]);
    open.faces[0].outline.truncate(2);
    assert!(shelf.save(&open).unwrap_err().to_string().contains("outline has 2 corners"));
    assert!(!shelf.folder().join("y").exists());
}
