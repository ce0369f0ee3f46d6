//! Faults name file, line and remedy in one line.

use super::super::centroid::{Column, Columns, Table};
use super::*;

#[test]
fn faults_name_file_line_and_remedy() {
    let gerber = "%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.1*%\nD10*\nX0Y0D02*\n";
    for (name, content, wanted) in [
        ("a.csv", "", "a.csv: the file is empty; give"),
        ("a.csv", "ref,x,y\nU1,1,2\nU1,3,4\n", "a.csv: line 3: part U1 is listed again, first on line 2; keep one"),
        ("a.csv", "ref,x,y\nU1,1,two\n", "a.csv: line 2: 'two' is not a length (y of the centre); correct"),
        ("a.csv", "ref,x,y\nU1,1,\n", "a.csv: line 2: part U1 has no y of the centre; fill"),
        ("a.csv", "ref,x,y,side\nU1,1,2,left\n", "a.csv: line 2: 'left' is neither top nor bottom; write"),
        ("a.csv", "ref,x,y\n", "a.csv: line 1: no part below the header; export"),
        ("a.csv", "name,value\nU1,3\n", "a.csv: no line names the columns for designator, x and y; add"),
        ("a.csv", "ref,x,y\n\"U1,1,2\n", "a.csv: line 2: a quote does not close; close"),
        ("a.csv", "ref,x,y\nU1,1e9,0\nU2,1,2\n", "a.csv: a coordinate of 25400000 mm is on no board; state"),
        ("n.ipc", "P  UNITS CUST 7\n", "n.ipc: line 1: units 'CUST 7' are none of"),
        (
            "n.ipc",
            "P  UNITS CUST 1\n327V12              U1    -1          A01X+01a000Y+027000\n",
            "n.ipc: line 2: '+01a000' in columns 43 to 49 is no whole number (x); export",
        ),
        (
            "n.ipc",
            "P  UNITS CUST 1\n327V12              U1    -1          A01 +011000Y+027000\n",
            "n.ipc: line 2: no X in column 42 and Y in column 50; export",
        ),
        ("n.ipc", "P  UNITS CUST 1\n999\n", "n.ipc: no test records"),
        ("p.gbr", &format!("{gerber}X1Y1D07*\nM02*\n"), "p.gbr: line 6: 'X1Y1D07*' is not understood; export"),
        ("p.gbr", &format!("{gerber}M02*\n"), "p.gbr: its lines enclose no area; give"),
        ("p.gbr", &format!("%TF.FileFunction,Copper,L1,Top*%\n{gerber}M02*\n"), "p.gbr: this is a copper layer; give"),
        ("o.svg", "<svg xmlns=\"http://www.w3.org/2000/svg\"><path d=\"M0 0 L1 1\"", "o.svg: "),
        (
            "o.svg",
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9\" height=\"9\"/>",
            "o.svg: no closed shape in it; draw",
        ),
        ("o.dxf", "0\nSECTION\n2\nENTITIES\n0\nLINE\n10\nx\n", "o.dxf: damaged: "),
        ("o.dxf", "0\nSECTION\n2\nENTITIES\n0\nENDSEC\n0\nEOF\n", "o.dxf: its lines enclose no area; choose"),
        ("x.bin", "nothing known\n", "x.bin: neither a centroid list nor"),
    ] {
        let message = text(name, content).expect_err(wanted);
        assert!(message.starts_with(wanted), "{message}\n  wanted {wanted}");
        assert_eq!(message.lines().count(), 1);
    }
}

#[test]
fn every_way_to_state_the_unit_is_read() {
    for (content, x_mm) in [
        ("ref,x,y\nU1,1in,0\nU2,3in,0\n", 25.4),
        ("ref,x (mil),y (mil)\nU1,1000,0\nU2,0,0\n", 25.4),
        ("ref,pos_x_mm,pos_y_mm\nU1,12.5,0\nU2,0,0\n", 12.5),
        ("Units: inches\nref,x,y\nU1,1,0\nU2,90,0\n", 25.4),
        ("ref;x;y\nU1;12,5;0\nU2;40,0;1\n", 12.5),
        ("# unit mm\n# ref x y rot side\nU1 3.5 1 0 top\nU2 4 2 0 top\n", 3.5),
        ("ref,x,y\nU1,0.5,0\nU2,2.5,0\n", 12.7),
    ] {
        let design = text("list.csv", content).unwrap();
        assert!((design.parts[0].x_mm - x_mm).abs() < 1e-9, "{content}: {}", design.parts[0].x_mm);
    }
}

#[test]
fn stated_columns_go_before_the_guess() {
    let content = "ref,x,y,padx,pady\nU1,1,2,30,40\nU2,1,2,60,70\n";
    let table = Table::parse(Path::new("l.csv"), content.as_bytes()).unwrap();
    let mut columns = Columns::guess(&table);
    columns.set(Column::X, Some(3));
    columns.set(Column::Y, Some(4));
    let choices = Choices { columns: Some(columns.clone()), ..Choices::default() };
    let design = read(Path::new("l.csv"), content.as_bytes(), &choices).unwrap();
    assert_eq!((design.parts[0].x_mm, design.parts[0].y_mm), (30.0, 40.0));
    columns.set(Column::Y, None);
    let choices = Choices { columns: Some(columns), ..Choices::default() };
    let message = read(Path::new("l.csv"), content.as_bytes(), &choices).unwrap_err().to_string();
    assert_eq!(message, "l.csv: line 1: no column is known to hold the y of the centre; choose the column");
}

#[test]
fn a_netlist_without_units_says_what_it_took() {
    let content = "327V12              U1    -1          A01X+010000Y+020000X1000Y1000R000 S0\n";
    let design = text("n.ipc", content).unwrap();
    // 0.0001 inch: 10000 of them are an inch.
    assert!((design.parts[0].x_mm - 25.4).abs() < 1e-9);
    assert!(design.notes.iter().any(|n| n.starts_with("the unit is not stated; inches taken")), "{:?}", design.notes);
    assert!(design.notes.iter().any(|n| n.contains("999")));
}

#[test]
fn single_quadrant_arcs_are_read() {
    let content = "%FSLAX33Y33*%\n%MOMM*%\n%ADD10C,0.1*%\nD10*\nG74*\nX10000Y0D02*\nG03*\nX0Y10000I10000J0D01*\n\
                   X-10000Y0I0J10000D01*\nX0Y-10000I10000J0D01*\nX10000Y0I0J10000D01*\nM02*\n";
    let design = text("p.gbr", content).unwrap();
    let area = super::super::contours::area(design.outline.as_ref().unwrap());
    // A circle of 10 mm radius; chords lose at most 0.02 mm along its circumference.
    assert!((area - 314.159).abs() < 0.02 * 62.9, "{area}");
}
