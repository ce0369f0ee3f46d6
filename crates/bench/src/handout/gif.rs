//! The recording in a step's view, with its marks, as an animated GIF.

use std::time::Duration;

use image::{
    Delay, DynamicImage, Frame,
    codecs::gif::{GifEncoder, Repeat},
};
use joulemark_frames::Progress;

use super::{Handout, film, film::Film, pages::go_on, png};
use crate::picture::painter::Painter;

/// Longest sides, in pixels: to be shown beside text.
const SIZE: [f32; 2] = [640.0, 480.0];
const WORDS: f32 = 13.0;
/// More frames make a file that no mail carries.
pub const MOST_FRAMES: usize = 80;
/// How thoroughly the encoder looks for 256 colours, 1 to 30: the maps have no more than that.
const ENCODER_SPEED: i32 = 20;

pub fn write(handout: &Handout, step: usize, progress: &dyn Progress) -> anyhow::Result<Vec<u8>> {
    let number = step + 1;
    let shown = handout.lesson.steps.get(step).ok_or_else(|| anyhow::anyhow!("the lesson has no step {number}"))?;
    let name = shown.view.shows.take().unwrap_or_default();
    let kept = handout.material.takes.get(name);
    let film = kept.and_then(|kept| {
        let seen = kept.seen();
        Film::of(film::plays(shown, &seen)?, &seen.take.timeline, MOST_FRAMES)
    });
    let film = film.ok_or_else(|| anyhow::anyhow!("step {number} shows no recording of two frames or more"))?;
    let painter = Painter::new()?;
    let mut bytes = Vec::new();
    let mut encoder = GifEncoder::new_with_speed(&mut bytes, ENCODER_SPEED);
    encoder.set_repeat(Repeat::Infinite)?;
    for (i, (&frame, &delay_ms)) in film.frames.iter().zip(&film.delays_ms).enumerate() {
        go_on(progress)?;
        progress.report("drawing the frames", i, film.frames.len());
        let view = film::view_at(handout, &shown.view, frame);
        let canvas = png::paint(handout, &handout.lesson, step, &view, SIZE, WORDS, &painter)?;
        let delay = Delay::from_saturating_duration(Duration::from_millis(delay_ms.into()));
        encoder.encode_frame(Frame::from_parts(DynamicImage::from(canvas).to_rgba8(), 0, 0, delay))?;
    }
    drop(encoder);
    Ok(bytes)
}
