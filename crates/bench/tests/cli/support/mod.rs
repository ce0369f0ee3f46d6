//! A small made-up recording on the disk, and the built program to run on it.

#![allow(dead_code, reason = "each test binary uses its own part of this")]
#![allow(clippy::unwrap_used, reason = "a helper of tests fails like a test")]

use std::{
    fs,
    path::{Path, PathBuf},
    process::{Command, Output},
};

use joulemark_frames::{
    NoProgress, Samples,
    read::{Recording, Scale},
    write,
};
use ndarray::Array3;
use tempfile::TempDir;

pub const FRAMES: usize = 60;
pub const BEFORE: usize = 20;
pub const HEIGHT: usize = 40;
pub const WIDTH: usize = 48;
/// Picture of 0.5 mm a pixel, face corner at pixel (4, 4).
pub const MM_PER_PX: f64 = 0.5;
/// Centre of C1, where the heat is.
pub const HOT_PX: (f64, f64) = (30.0, 18.0);

/// Runs the program.
pub fn joulemark<S: AsRef<std::ffi::OsStr>>(args: &[S]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_joulemark")).args(args).output().unwrap()
}

pub fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

pub fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// Exit code 2 and nothing but one line that names `file` and says `wanted`.
#[track_caller]
pub fn assert_refused(output: &Output, file: &str, wanted: &str) {
    let told = stderr(output);
    assert_eq!(output.status.code(), Some(2), "{told}");
    assert_eq!(told.lines().count(), 1, "{told}");
    assert!(told.starts_with("error: "), "{told}");
    assert!(told.contains(file), "'{file}' is not named in: {told}");
    assert!(told.contains(wanted), "'{wanted}' is not said in: {told}");
    assert_eq!(stdout(output), "", "a refused input has no result");
}

/// A tool of poppler's on a file; `tests/run` installs them.
pub fn poppler(tool: &str, args: &[&str], file: &Path) -> String {
    let mut command = Command::new(tool);
    command.args(args).arg(file);
    if tool == "pdftotext" {
        command.arg("-");
    }
    let output = command.output().unwrap_or_else(|e| panic!("{tool} of poppler-utils: {e}; tests/run installs it"));
    assert!(output.status.success(), "{tool}: {}", stderr(&output));
    // Poppler 22 expects a name where ISO 32000-1, table 321, has a boolean.
    let told = stderr(&output);
    let faults: Vec<&str> = told.lines().filter(|l| !l.contains("Suspects object is wrong type (boolean)")).collect();
    assert!(faults.is_empty(), "{tool} finds a fault in the file: {faults:?}");
    stdout(&output)
}

/// Its words with single spaces, so that line breaks do not matter.
pub fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The words of a PDF, as they stand on its pages.
pub fn pdf_text(file: &Path) -> String {
    words(&poppler("pdftotext", &["-layout"], file))
}

/// A practice case in a folder of its own.
pub fn practice(folder: &Path, name: &str, seed: &str) -> PathBuf {
    let at = folder.join(name);
    let made = joulemark(&["practice", "ceramic-capacitor", &at.display().to_string(), "--seed", seed]);
    assert!(made.status.success(), "{}", stderr(&made));
    at
}

/// Hundredths of a kelvin; C1 warms by `rise_k` with a time constant of 5 s from frame [`BEFORE`] on, at 4 frames a
/// second, in noise of 50 mK.
pub fn counts(rise_k: f64) -> Array3<u16> {
    let mut state = 12345_u64;
    // Sum of twelve uniform numbers less six: mean 0, variance 1.
    let mut normal = move || {
        (0..12)
            .map(|_| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (state >> 33) as f64 / (1_u64 << 31) as f64
            })
            .sum::<f64>()
            - 6.0
    };
    Array3::from_shape_fn((FRAMES, HEIGHT, WIDTH), |(t, y, x)| {
        let since_s = (t as f64 - BEFORE as f64) / 4.0;
        let course = if since_s > 0.0 { 1.0 - (-since_s / 5.0).exp() } else { 0.0 };
        let r2 = (x as f64 - HOT_PX.0).powi(2) + (y as f64 - HOT_PX.1).powi(2);
        let kelvin = 300.0 + 0.05 * normal() + rise_k * course * (-r2 / (2.0 * 2.0_f64.powi(2))).exp();
        (100.0 * kelvin).round() as u16
    })
}

/// Writes samples in the format that the name says.
pub fn write_frames(file: &Path, samples: Samples, scale: Scale) {
    let recording = Recording {
        file: file.to_owned(),
        description: String::new(),
        samples,
        scale,
        names: Vec::new(),
        time_s: None,
        notes: Vec::new(),
    };
    write::write(&recording, file, &NoProgress).unwrap();
}

/// A folder with `frames.tif`, `log.csv`, `board.ron` and `pairs.csv`.
pub struct Loose {
    pub folder: TempDir,
}

impl Loose {
    pub fn new(rise_k: f64) -> Self {
        let loose = Self { folder: tempfile::tempdir().unwrap() };
        write_frames(&loose.path("frames.tif"), Samples::U16(counts(rise_k)), Scale::Counts { bits: 16 });
        loose.write("log.csv", log(BEFORE));
        loose.write("board.ron", BOARD);
        loose.write("pairs.csv", PAIRS);
        loose
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn write(&self, name: &str, content: impl AsRef<[u8]>) {
        fs::write(self.path(name), content).unwrap();
    }

    /// The usual flags, with `changes` (flag, value) in place of or beside them; an empty value leaves a flag out.
    pub fn args(&self, changes: &[(&str, &str)]) -> Vec<String> {
        let file = |name: &str| self.path(name).display().to_string();
        let mut flags: Vec<(String, String)> = [
            ("--frames", file("frames.tif")),
            ("--log", file("log.csv")),
            ("--board", file("board.ron")),
            ("--rail", "V12".to_owned()),
            ("--pairs", file("pairs.csv")),
            ("--counts", "centikelvin".to_owned()),
        ]
        .into_iter()
        .map(|(flag, value)| (flag.to_owned(), value))
        .collect();
        for (flag, value) in changes {
            flags.retain(|(f, _)| f != flag);
            let is_file = ["--frames", "--log", "--board", "--pairs", "--picture"].contains(flag);
            if !value.is_empty() {
                flags.push(((*flag).to_owned(), if is_file { file(value) } else { (*value).to_owned() }));
            }
        }
        std::iter::once("locate".to_owned()).chain(flags.into_iter().flat_map(|(f, v)| [f, v])).collect()
    }

    pub fn locate(&self, changes: &[(&str, &str)]) -> Output {
        joulemark(&self.args(changes))
    }
}

/// A capture log of [`FRAMES`] rows with current from frame `from` on.
pub fn log(from: usize) -> String {
    let mut text = "frame,time_s,injecting,volts,amps\n".to_owned();
    for t in 0..FRAMES {
        let on = t >= from;
        let readings = if on { "0.8,1.2" } else { "," };
        text += &format!("{t},{},{},{readings}\n", t as f64 / 4.0, u8::from(on));
    }
    text
}

pub const BOARD: &str = r#"(
    name: "buoy lamp driver",
    faces: [(
        name: "top",
        outline: [(0, 0), (20, 0), (20, 16), (0, 16)],
        parts: [
            (designator: "C1", kind: capacitor, x_mm: 13, y_mm: 7, width_mm: 1.6, height_mm: 0.8, rails: ["V12"], max_volts: 16),
            (designator: "C2", kind: capacitor, x_mm: 5, y_mm: 4, width_mm: 1.6, height_mm: 0.8, rails: ["V12"]),
            (designator: "U1", kind: ic, x_mm: 6, y_mm: 11, width_mm: 5, height_mm: 5, rails: ["V3"]),
        ],
    )],
    rails: [(name: "V12", nominal_volts: 12), (name: "V3", nominal_volts: 3.3)],
)
"#;

pub const PAIRS: &str = "x_px,y_px,x_mm,y_mm\n4,4,0,0\n44,4,20,0\n44,36,20,16\n4,36,0,16\n";
