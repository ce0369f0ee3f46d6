//! Motion-JPEG in AVI by our own parser, other video through `ffmpeg`.

use std::{path::PathBuf, process::Command, time::Instant};

use image::ImageFormat;

use super::*;

fn jpegs() -> Vec<Vec<u8>> {
    (0..3).map(|_| picture(32, 24, ImageFormat::Jpeg)).collect()
}

#[test]
fn motion_jpeg_gives_frames_and_times() {
    let read = bytes(&avi(32, 24, (25, 2), &jpegs())).expect("valid");
    assert_eq!(read.samples.shape(), crate::StackShape { frames: 3, height_px: 24, width_px: 32 });
    assert_eq!((read.time_s, read.scale), (Some(vec![0.0, 0.08, 0.16]), Scale::Relative));
    // The same picture alone decodes to the same grey.
    let (Samples::U8(video), Samples::U8(single)) = (&read.samples, bytes(&jpegs()[0]).expect("valid").samples) else {
        panic!("8-bit")
    };
    assert_eq!(video.index_axis(ndarray::Axis(0), 1), single.index_axis(ndarray::Axis(0), 0));
}

#[test]
fn dropped_frames_repeat_and_are_said() {
    let mut pictures = jpegs();
    pictures[1].clear();
    pictures.insert(0, Vec::new());
    let read = bytes(&avi(32, 24, (25, 1), &pictures)).expect("valid");
    assert_eq!(read.samples.shape().frames, 3);
    assert!(read.notes[0].what.starts_with("empty frames: 1 at the start"), "{:?}", read.notes);
}

#[test]
fn a_picture_without_tables_takes_the_standard_ones() {
    let jpeg = jpegs().remove(0);
    let read = bytes(&avi(32, 24, (25, 1), std::slice::from_ref(&jpeg))).expect("valid");
    // Motion-JPEG leaves the Huffman tables out; this encoder writes those of ITU-T T.81, annex K.3, the standard ones.
    let mut bare = jpeg[..2].to_vec();
    let mut at = 2;
    while jpeg[at + 1] != 0xDA {
        let end = at + 2 + usize::from(u16::from_be_bytes([jpeg[at + 2], jpeg[at + 3]]));
        if jpeg[at + 1] != 0xC4 {
            bare.extend(&jpeg[at..end]);
        }
        at = end;
    }
    bare.extend(&jpeg[at..]);
    assert!(bare.len() < jpeg.len());
    assert_eq!(bytes(&avi(32, 24, (25, 1), &[bare])).expect("valid").samples, read.samples);
}

#[test]
fn what_follows_the_container_is_ignored() {
    let whole = avi(32, 24, (25, 1), &jpegs());
    let longer = [&whole[..], b"trailing words of a camera"].concat();
    assert_eq!(bytes(&longer).expect("valid").samples, bytes(&whole).expect("valid").samples);
}

#[test]
fn damaged_containers_are_refused() {
    let whole = avi(32, 24, (25, 1), &jpegs());
    refused(bytes(&whole[..whole.len() - 20]), &["AVI", "ends beyond"]);
    refused(bytes(&whole[..40]), &["AVI"]);
    refused(bytes(&avi(32, 24, (25, 1), &[])), &["no pictures inside"]);
    refused(bytes(&avi(32, 24, (25, 1), &[b"raw!".to_vec()])), &["coded as 'MJPG'"]);
    let mut mixed = jpegs();
    mixed[2] = picture(16, 16, ImageFormat::Jpeg);
    refused(bytes(&avi(32, 24, (25, 1), &mixed)), &["frame 2", "mixed sizes: 16 x 16"]);
    refused(bytes(&avi(60_000, 60_000, (25, 1), &jpegs())), &["frame 0", "promises"]);
}

/// Ten frames of 64 x 48 at 25 frames per second, lossless, frame i of grey value 20 i.
fn make_video(path: &Path, coding: &[&str]) {
    let mut command = Command::new("ffmpeg");
    command
        .args(["-v", "error", "-f", "lavfi", "-i"])
        .arg("color=black:size=64x48:rate=25:duration=0.4,format=gray,geq=lum=20*N");
    let status = command.args(coding).arg(path).status();
    let made = status.map(|s| s.success());
    assert!(matches!(made, Ok(true)), "ffmpeg is needed for this test: apt install ffmpeg ({made:?})");
}

#[test]
fn other_video_comes_through_ffmpeg() {
    let folder = folder();
    for (name, coding) in [
        ("a.mp4", &["-c:v", "mpeg4", "-q:v", "1"][..]),
        ("a.mkv", &["-c:v", "ffv1"]),
        ("a.mov", &["-c:v", "png"]),
        ("a.avi", &["-c:v", "ffv1"]),
        ("-a;b c.mp4", &["-c:v", "mpeg4", "-q:v", "1"]),
    ] {
        // A leading dash in the name must not become an option: written under its full path, read by its name.
        let path = folder.path().join(name);
        make_video(&path, coding);
        let read = open(&path, &ReadOptions::default(), &NoProgress).unwrap_or_else(|e| panic!("{e}"));
        let Samples::U8(grey) = &read.samples else { panic!("8-bit") };
        assert_eq!(grey.dim(), (10, 48, 64), "{name}");
        for (i, frame) in grey.outer_iter().enumerate() {
            // MPEG-4 at its best quality may miss a flat grey by a level or two, and by one more for the studio range.
            let value = i32::from(frame[[20, 30]]);
            assert!((value - 20 * i as i32).abs() <= 3, "{name}: frame {i} is {value}");
        }
        let time_s = read.time_s.expect("times");
        // Containers round times to a millisecond or finer.
        assert!(time_s.iter().enumerate().all(|(i, t)| (t - 0.04 * i as f64).abs() < 1.1e-3), "{name}: {time_s:?}");
    }
}

#[test]
fn deep_grey_video_keeps_its_depth() {
    let folder = folder();
    let path = folder.path().join("a.mkv");
    make_video(&path, &["-pix_fmt", "gray16le", "-c:v", "ffv1", "-level", "3"]);
    let read = open(&path, &ReadOptions::default(), &NoProgress).unwrap_or_else(|e| panic!("{e}"));
    assert!(matches!(read.samples, Samples::U16(_)), "{}", read.description);
    assert_eq!(read.scale, Scale::Relative);
}

#[test]
fn without_ffmpeg_one_line_says_so() {
    let folder = folder();
    let path = folder.path().join("a.mp4");
    fs::write(&path, b"\0\0\0\x18ftypmp42").expect("writes");
    let options = ReadOptions::default();
    let input = Input::disk(&path, &options, &NoProgress).expect("exists");
    let programs = ffmpeg::Programs { probe: "no-such-ffprobe", decode: "no-such-ffmpeg" };
    refused(ffmpeg::read_with(&input, programs), &["a.mp4", "no-such-ffprobe", "not installed", "apt install ffmpeg"]);
    refused(open(&path, &options, &NoProgress), &["a.mp4", "video"]);
}

#[test]
fn the_memory_limit_holds_for_video() {
    let folder = folder();
    let path = folder.path().join("a.mkv");
    make_video(&path, &["-c:v", "ffv1"]);
    let options = ReadOptions { memory_limit_bytes: 64 * 48 * 5, ..ReadOptions::default() };
    let result = open(&path, &options, &NoProgress);
    assert!(matches!(result, Err(FramesError::TooLarge { .. })), "{result:?}");
}

/// Cancels once a file exists.
struct CancelWhen(PathBuf);

impl Progress for CancelWhen {
    fn report(&self, _stage: &str, _done: usize, _total: usize) {}

    fn cancelled(&self) -> bool {
        self.0.exists()
    }
}

#[cfg(unix)]
#[test]
fn cancelling_ends_the_other_program() {
    use std::os::unix::fs::PermissionsExt;
    // A program that never ends by itself stands in for a decoder that hangs.
    let folder = folder();
    let path = folder.path().join("a.mp4");
    fs::write(&path, b"\0\0\0\x18ftypmp42").expect("writes");
    let script = folder.path().join("hang");
    let pid_file = folder.path().join("hang.pid");
    fs::write(&script, "#!/bin/sh\necho $$ > \"$0.tmp\"\nmv \"$0.tmp\" \"$0.pid\"\nexec sleep 600\n").expect("writes");
    fs::set_permissions(&script, fs::Permissions::from_mode(0o755)).expect("executable");
    let program: &'static str = Box::leak(script.to_string_lossy().into_owned().into_boxed_str());
    let options = ReadOptions::default();
    let progress = CancelWhen(pid_file.clone());
    let input = Input::disk(&path, &options, &progress).expect("exists");
    let start = Instant::now();
    let result = ffmpeg::read_with(&input, ffmpeg::Programs { probe: program, decode: program });
    assert!(matches!(result, Err(FramesError::Cancelled)), "{result:?}");
    assert!(start.elapsed().as_secs() < 300, "waited for the program instead of ending it");
    let pid = fs::read_to_string(pid_file).expect("it ran");
    assert!(!Path::new(&format!("/proc/{}", pid.trim())).exists(), "the program still runs");
}
