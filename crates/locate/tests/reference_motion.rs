//! Movement against scikit-image and SciPy on the same files in the same run (`tests/reference/move_pictures.py`).
//! Needs the Python environment that `tests/run` sets up.

// Clippy sees tests only in functions marked so; the helpers here are part of them.
#![allow(clippy::unwrap_used)]

#[path = "../../../tests/reference/launch.rs"]
mod launch;

use std::{fs, path::Path};

use joulemark_frames::{
    CountsLaw, NoProgress, Samples, Stack, Timeline,
    read::{self, ReadOptions},
    write,
};
use joulemark_locate::repair::{
    Frames, Motion, MotionOutcome, Pose, Steady,
    motion::{self, periodic_shift},
};
use ndarray::Array3;
use serde_json::Value;

fn reference(what: &str, folder: &Path) -> String {
    String::from_utf8(launch::run("move_pictures.py", &[what.as_ref(), folder.as_os_str()], &[])).unwrap()
}

fn frames(path: &Path) -> Array3<f32> {
    let recording = read::open(path, &ReadOptions::default(), &NoProgress).unwrap();
    let Samples::F32(frames) = recording.samples else { panic!("{}: 32-bit values expected", path.display()) };
    frames
}

fn json(path: &Path) -> Vec<Value> {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

#[test]
fn shifts_agree_with_scikit_image_and_moved_frames_come_back_as_well_as_by_scipy() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    reference("write", folder);

    // scikit-image works in hundredths of a pixel. The first shift is that of the published check: Guizar-Sicairos, Thurman
    // and Fienup, Opt. Lett. 33 (2008) 156; Foroosh, Zerubia and Berthod, IEEE TIP 11 (2002) 188.
    let pictures = frames(&folder.join("periodic.npy"));
    let picture = |t: usize| pictures.index_axis(ndarray::Axis(0), t).iter().copied().collect::<Vec<f32>>();
    for (i, answer) in json(&folder.join("periodic.json")).iter().enumerate() {
        let ours = periodic_shift(&picture(0), &picture(i + 1), pictures.dim().2);
        let (theirs, truth) = (numbers(&answer["found"]), numbers(&answer["truth"]));
        assert!((ours.0 - theirs[0]).abs() < 0.01 && (ours.1 - theirs[1]).abs() < 0.01, "{ours:?} {theirs:?}");
        // The picture is band-limited, so only the rounding of its file is left.
        assert!((ours.0 - truth[0]).abs() < 1e-3 && (ours.1 - truth[1]).abs() < 1e-3, "{ours:?} {truth:?}");
    }

    let moved = frames(&folder.join("moved.npy"));
    let poses: Vec<Pose> = [Pose::default()]
        .into_iter()
        .chain(json(&folder.join("moved.json")).iter().map(|pose| {
            let pose = numbers(pose);
            Pose { x_px: pose[0], y_px: pose[1], rotation_deg: pose[2] }
        }))
        .collect();
    let known = Motion {
        shift_se_px: vec![[0.0; 2]; poses.len()],
        rotation_se_deg: vec![0.0; poses.len()],
        poses: poses.clone(),
        lost: Vec::new(),
        faulty: Vec::new(),
    };
    let stack = Stack::new(Samples::F32(moved.clone()), CountsLaw::IDENTITY);
    let steady = Steady::new(&stack, &known);
    let mut back = Array3::<f32>::zeros(moved.dim());
    for (t, mut frame) in back.outer_iter_mut().enumerate() {
        steady.copy_run(t, 0..steady.shape().pixels(), frame.as_slice_mut().unwrap());
    }
    let mut recording = read::open(&folder.join("moved.npy"), &ReadOptions::default(), &NoProgress).unwrap();
    recording.samples = Samples::F32(back);
    write::write(&recording, &folder.join("steady.npy"), &NoProgress).unwrap();
    let answer: Value = serde_json::from_str(&reference("compare", folder)).unwrap();
    println!("compared with {}", answer["versions"]);
    for (pose, errors) in poses[1..].iter().zip(answer["errors"].as_array().unwrap()) {
        let (ours, spline) = (errors["ours"].as_f64().unwrap(), errors["spline"].as_f64().unwrap());
        println!("{pose:?}: rms {ours:.4} of the spread, SciPy's cubic spline {spline:.4}");
        // Six taps for this blur against a spline that reaches over the whole picture: no worse than that and a tenth.
        assert!(ours < 1.1 * spline, "{pose:?}: {ours} against {spline}");
    }

    // The search for movement, on the same frames behind ten still ones.
    let order: Vec<usize> = [0; 10].into_iter().chain(1..poses.len()).collect();
    let mut timeline = Timeline::steady(order.len(), 9.0);
    timeline.inject_from(10);
    let outcome = motion::find(&stack.select(&order), &timeline, &NoProgress).unwrap();
    let MotionOutcome::Repaired(found) = &outcome else { panic!("{outcome:?}") };
    for (t, &frame) in order.iter().enumerate() {
        let (found, truth) = (found.poses[t], poses[frame]);
        // Without noise what is left is interpolation, at every corner 100 px away too.
        let corner_px = (found.rotation_deg - truth.rotation_deg).to_radians().abs() * 100.0;
        let apart_px = (found.x_px - truth.x_px).hypot(found.y_px - truth.y_px);
        println!("{truth:?}: {apart_px:.4} px apart, corners {corner_px:.4} px");
        assert!(apart_px < 0.05 && corner_px < 0.1, "frame {t}: {found:?} {truth:?}");
    }
}
