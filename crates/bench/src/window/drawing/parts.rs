//! Arithmetic on parts: bounds, boxes, turning, mirroring, lining up, copies in rows.

use joulemark_locate::board::{Footprint, Part};

use super::{Along, snap::tidy};

/// Smallest and largest x and y that a part covers.
pub fn bounds(part: &Part) -> ([f64; 2], [f64; 2]) {
    let corners = Footprint::from(part).corners_mm();
    let low = |i: usize| corners.iter().map(|c| c[i]).fold(f64::INFINITY, f64::min);
    let high = |i: usize| corners.iter().map(|c| c[i]).fold(f64::NEG_INFINITY, f64::max);
    ([low(0), low(1)], [high(0), high(1)])
}

/// Bounds of several parts.
pub fn bounds_of(parts: &[&Part]) -> Option<([f64; 2], [f64; 2])> {
    parts
        .iter()
        .map(|p| bounds(p))
        .reduce(|(la, ha), (lb, hb)| ([0, 1].map(|i: usize| la[i].min(lb[i])), [0, 1].map(|i: usize| ha[i].max(hb[i]))))
}

/// An angle in 0 to 360 degrees.
fn turned(degrees: f64) -> f64 {
    tidy(degrees.rem_euclid(360.0))
}

/// The parts turned clockwise about their common middle.
pub fn rotate(parts: &[&Part], degrees: f64) -> Vec<Part> {
    let Some((low, high)) = bounds_of(parts) else {
        return Vec::new();
    };
    // One part turns about its own middle; the middle of its bounds is the same point, but for rounding.
    let middle = if let [one] = parts { [one.x_mm, one.y_mm] } else { [0, 1].map(|i| (low[i] + high[i]) / 2.0) };
    let (sin, cos) = degrees.to_radians().sin_cos();
    let turn = |p: &&Part| {
        let (dx, dy) = (p.x_mm - middle[0], p.y_mm - middle[1]);
        Part {
            x_mm: tidy(middle[0] + dx * cos - dy * sin),
            y_mm: tidy(middle[1] + dx * sin + dy * cos),
            rotation_deg: turned(p.rotation_deg + degrees),
            ..(*p).clone()
        }
    };
    parts.iter().map(turn).collect()
}

/// The parts mirrored about their common middle.
pub fn mirror(parts: &[&Part], left_right: bool) -> Vec<Part> {
    let Some((low, high)) = bounds_of(parts) else {
        return Vec::new();
    };
    let flip = |p: &&Part| {
        let mut part = (*p).clone();
        if left_right {
            part.x_mm = tidy(low[0] + high[0] - p.x_mm);
        } else {
            part.y_mm = tidy(low[1] + high[1] - p.y_mm);
        }
        part.rotation_deg = turned(-p.rotation_deg);
        part
    };
    parts.iter().map(flip).collect()
}

/// The parts lined up: edges at the outermost edge, middles at the middle of all.
pub fn align(parts: &[&Part], along: Along) -> Vec<Part> {
    let Some((low, high)) = bounds_of(parts) else {
        return Vec::new();
    };
    let mean = [0, 1].map(|i: usize| (low[i] + high[i]) / 2.0);
    let moved = |p: &&Part| {
        let (own, _) = bounds(p);
        let mut part = (*p).clone();
        match along {
            Along::Left => part.x_mm = tidy(p.x_mm + low[0] - own[0]),
            Along::Top => part.y_mm = tidy(p.y_mm + low[1] - own[1]),
            Along::Column => part.x_mm = tidy(mean[0]),
            Along::Row => part.y_mm = tidy(mean[1]),
        }
        part
    };
    parts.iter().map(moved).collect()
}

/// Moved copies, named later.
pub fn shifted(part: &Part, dx_mm: f64, dy_mm: f64) -> Part {
    Part { x_mm: tidy(part.x_mm + dx_mm), y_mm: tidy(part.y_mm + dy_mm), ..part.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(x_mm: f64, y_mm: f64, width_mm: f64, height_mm: f64, rotation_deg: f64) -> Part {
        Part { x_mm, y_mm, width_mm, height_mm, rotation_deg, ..Part::default() }
    }

    #[test]
    fn four_quarter_turns_and_two_mirrors_change_nothing() {
        let start = [part(1.0, 2.0, 4.0, 2.0, 0.0), part(9.0, 5.0, 1.0, 1.0, 30.0)];
        let mut now = start.to_vec();
        for _ in 0..4 {
            now = rotate(&now.iter().collect::<Vec<_>>(), 90.0);
        }
        assert_eq!(now, start);
        for left_right in [true, false] {
            let once = mirror(&now.iter().collect::<Vec<_>>(), left_right);
            assert_ne!(once, start);
            assert_eq!(mirror(&once.iter().collect::<Vec<_>>(), left_right), start);
        }
    }

    #[test]
    fn a_quarter_turn_is_clockwise_to_the_eye() {
        // Right of the middle goes to below it (y down).
        let pair = [part(-2.0, 0.0, 1.0, 1.0, 0.0), part(2.0, 0.0, 1.0, 1.0, 0.0)];
        let turned = rotate(&pair.iter().collect::<Vec<_>>(), 90.0);
        assert_eq!((turned[1].x_mm, turned[1].y_mm, turned[1].rotation_deg), (0.0, 2.0, 90.0));
    }

    #[test]
    fn edges_line_up_whatever_the_turn() {
        let parts = [part(5.0, 0.0, 4.0, 2.0, 0.0), part(9.0, 7.0, 4.0, 2.0, 90.0)];
        let left = align(&parts.iter().collect::<Vec<_>>(), Along::Left);
        assert_eq!((left[0].x_mm, left[1].x_mm), (5.0, 4.0));
        let row = align(&parts.iter().collect::<Vec<_>>(), Along::Row);
        // From -1 to 9 in all: the middle is 4.
        assert_eq!((row[0].y_mm, row[1].y_mm), (4.0, 4.0));
    }
}
