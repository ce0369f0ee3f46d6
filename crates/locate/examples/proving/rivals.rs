//! What a technician sees without the program: the hottest pixel of the last frame, and of the smoothed difference of
//! after and before. Both look at the board only, and name the part that is nearest to the pixel.

use joulemark_locate::{align::Alignment, board::Footprint, simulate::proving::ProvingBoard};
use nalgebra::Point2;
use ndarray::Array2;

use crate::record::Record;

/// Frames that the difference averages at the end of the injection.
const LAST_FRAMES: usize = 10;
/// Half the width of the box that smooths the difference, pixels.
const SMOOTH_PX: usize = 2;

/// Fills in both.
pub fn judge(made: &ProvingBoard, alignment: &Alignment, record: &mut Record) {
    let take = &made.simulated.take;
    let frames = take.stack.shape().frames;
    let before = take.timeline.first_injected().unwrap_or(frames).max(1);
    record.last_frame = nearest_part(made, alignment, &take.stack.frame(frames - 1));
    let mean = |range: std::ops::Range<usize>| {
        let count = range.len() as f32;
        let mut sum = take.stack.frame(range.start);
        for frame in range.skip(1) {
            sum += &take.stack.frame(frame);
        }
        sum / count
    };
    // For pulses the end is every frame with current on.
    let difference = if made.period_s.is_some() {
        let on: Vec<usize> = (0..frames).filter(|&i| take.timeline.injecting[i]).collect();
        let mut sum = Array2::zeros(take.stack.frame(0).dim());
        for &frame in &on {
            sum += &take.stack.frame(frame);
        }
        sum / on.len() as f32 - mean(0..before)
    } else {
        mean(frames.saturating_sub(LAST_FRAMES)..frames) - mean(0..before)
    };
    record.difference = nearest_part(made, alignment, &smoothed(&difference));
}

/// A box mean along both axes.
fn smoothed(values: &Array2<f32>) -> Array2<f32> {
    let (height, width) = values.dim();
    Array2::from_shape_fn((height, width), |(y, x)| {
        let rows = y.saturating_sub(SMOOTH_PX)..(y + SMOOTH_PX + 1).min(height);
        let columns = x.saturating_sub(SMOOTH_PX)..(x + SMOOTH_PX + 1).min(width);
        let area = values.slice(ndarray::s![rows, columns]);
        area.sum() / area.len() as f32
    })
}

fn nearest_part(made: &ProvingBoard, alignment: &Alignment, picture: &Array2<f32>) -> Option<String> {
    let face = made.board.face(&made.face)?;
    let mut best: Option<(f32, Point2<f64>)> = None;
    for ((y, x), &value) in picture.indexed_iter() {
        if best.is_none_or(|b| value > b.0) {
            let at = alignment.to_board(Point2::new(x as f64, y as f64));
            if face.outline_contains(at) {
                best = Some((value, at));
            }
        }
    }
    let (_, at) = best?;
    let parts = face.parts.iter().map(|part| (Footprint::from(part).distance_mm(at), part));
    parts.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, part)| part.designator.clone())
}
