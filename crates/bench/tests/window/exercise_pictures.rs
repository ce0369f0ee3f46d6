//! Pictures of the student's desk for the eye, as everybody sees them and as people do who see fewer colours.

use std::path::Path;

use egui_kittest::Harness;
use image::RgbaImage;
use joulemark::{
    case::exercise::{Answers, Place, RailAnswer},
    window::{
        app::App,
        command::Command,
        exercise::{ExerciseCommand, Tab},
        screen::{Bench, Layer},
    },
};

use crate::{
    common,
    exercise::{answer_of, class_file, opened, written},
    gallery,
};

/// Fills in answers that are nearly right, as a student would, 2.2 mm off.
fn nearly(window: &mut Harness<'static, App>, folder: &Path) {
    let answer = answer_of(folder);
    let part = &answer.parts[0];
    let answers = Answers {
        rail: RailAnswer::Rail("V5".into()),
        volts: Some(0.3),
        amps: Some(1.0),
        seconds: Some(15.0),
        place: Some(Place { face: "top".into(), x_mm: part.x_mm + part.width_mm / 2.0 + 2.2, y_mm: part.y_mm }),
        part: "C4".into(),
    };
    window.state_mut().set_by("Ida");
    window.state_mut().apply(Command::Exercise(ExerciseCommand::Answer(Box::new(answers), "answer")));
    for layer in [Layer::FrameRise, Layer::Rise] {
        window.state_mut().apply(Command::Exercise(ExerciseCommand::Look(layer)));
    }
    window.state_mut().apply(Command::Exercise(ExerciseCommand::LookCurve));
    window.run_steps(3);
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn pictures() {
    let place = tempfile::tempdir().unwrap();
    for (tag, size, bench) in
        [("large-dark", [1440.0, 900.0], Bench::Dark), ("small-light", [1024.0, 700.0], Bench::Light)]
    {
        let folder = written(&place.path().join(tag));
        let mut window = opened(&folder, size);
        window.state_mut().apply(Command::SetBench(bench));
        for (tab, words) in [(Tab::Task, "task"), (Tab::Readings, "readings")] {
            window.state_mut().apply(Command::Exercise(ExerciseCommand::Tab(tab)));
            gallery::shot(&format!("exercise-{words}-{tag}"), &mut window);
        }
        nearly(&mut window, &folder);
        for (tab, words) in [(Tab::Drawing, "drawing"), (Tab::Recording, "recording")] {
            window.state_mut().apply(Command::Exercise(ExerciseCommand::Tab(tab)));
            gallery::shot(&format!("exercise-{words}-{tag}"), &mut window);
        }
        window.state_mut().apply(Command::Exercise(ExerciseCommand::HandIn));
        gallery::shot(&format!("exercise-feedback-{tag}"), &mut window);
        window.state_mut().apply(Command::Exercise(ExerciseCommand::Tab(Tab::Drawing)));
        gallery::shot(&format!("exercise-feedback-drawing-{tag}"), &mut window);
        window.state_mut().apply(Command::Exercise(ExerciseCommand::Class(Some(class_file(&place.path().join(tag))))));
        common::wait(&mut window, |app| app.screen.exercise.class.is_some());
        gallery::shot(&format!("exercise-class-{tag}"), &mut window);
        window.state_mut().apply(Command::BackOut);
        window.state_mut().apply(Command::Exercise(ExerciseCommand::Make(true)));
        gallery::shot(&format!("exercise-make-{tag}"), &mut window);
    }
}

/// Views without one kind of cone: matrices on linear RGB for severity 1.0 of table 1 in G. M. Machado, M. M. Oliveira and
/// L. A. F. Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE Transactions on
/// Visualization and Computer Graphics 15 (2009) 1291-1298, as colorspacious 1.1.2 (MIT) carries them.
const MACHADO: [(&str, [[f64; 3]; 3]); 3] = [
    ("protan", [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]),
    ("deutan", [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]),
    ("tritan", [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]),
];

/// IEC 61966-2-1.
fn linear(v: u8) -> f64 {
    let v = f64::from(v) / 255.0;
    if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
}

/// The inverse of [`linear`].
fn coded(v: f64) -> u8 {
    let v = v.clamp(0.0, 1.0);
    let v = if v <= 0.003_130_8 { v * 12.92 } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 };
    (v * 255.0).round() as u8
}

fn seen(picture: &RgbaImage, matrix: &[[f64; 3]; 3]) -> RgbaImage {
    let mut seen = picture.clone();
    for pixel in seen.pixels_mut() {
        let [r, g, b] = [0, 1, 2].map(|i| linear(pixel.0[i]));
        for (i, row) in matrix.iter().enumerate() {
            pixel.0[i] = coded(row[0] * r + row[1] * g + row[2] * b);
        }
    }
    seen
}

/// The matrices keep greys as they are: each row sums to one, to the six decimals of the table.
#[test]
fn greys_look_the_same_to_everybody() {
    for (name, matrix) in MACHADO {
        for row in matrix {
            assert!((row.iter().sum::<f64>() - 1.0).abs() < 2e-6, "{name}");
        }
        let greys = RgbaImage::from_fn(256, 1, |x, _| image::Rgba([x as u8, x as u8, x as u8, 255]));
        assert_eq!(seen(&greys, &matrix), greys, "{name}");
    }
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn as_people_see_who_see_fewer_colours() {
    let place = tempfile::tempdir().unwrap();
    let target = concat!(env!("CARGO_MANIFEST_DIR"), "/../../target/screens");
    std::fs::create_dir_all(target).expect("target can be written to");
    for (tag, bench) in [("dark", Bench::Dark), ("light", Bench::Light)] {
        let folder = written(&place.path().join(tag));
        let mut window = opened(&folder, [1440.0, 900.0]);
        window.state_mut().apply(Command::SetBench(bench));
        nearly(&mut window, &folder);
        for what in ["recording", "feedback"] {
            let tab = Command::Exercise(ExerciseCommand::Tab(Tab::Recording));
            window.state_mut().apply(tab);
            if what == "feedback" {
                window.state_mut().apply(Command::Exercise(ExerciseCommand::HandIn));
            }
            window.run_steps(4);
            let picture = window.render().expect("renders");
            for (name, matrix) in MACHADO {
                seen(&picture, &matrix).save(format!("{target}/exercise-{what}-{tag}-{name}.png")).expect("saves");
            }
        }
    }
}
