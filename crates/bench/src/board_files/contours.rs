//! Loose lines and arcs into closed shapes, and which of them is the board's outline.

use std::collections::HashMap;

use super::Design;

/// Ends nearer than this meet: a hundredth of a millimetre, coarser than any file's rounding and finer than any real
/// gap (common practice, no published source).
const JOIN_MM: f64 = 0.01;

/// Arcs become chords that stay within this of the arc; far below what a thermal picture resolves.
const SAGITTA_MM: f64 = 0.02;

pub(super) type Line = Vec<[f64; 2]>;

/// Points along an arc from `start` about `centre` by `sweep_rad` (positive from x towards y), `start` left out.
pub(super) fn arc(start: [f64; 2], centre: [f64; 2], sweep_rad: f64) -> Line {
    let (dx, dy) = (start[0] - centre[0], start[1] - centre[1]);
    let (radius, angle) = (dx.hypot(dy), dy.atan2(dx));
    if !(radius.is_finite() && sweep_rad.is_finite()) {
        return vec![[f64::NAN; 2]];
    }
    // A chord over an angle a leaves the arc by r (1 - cos(a / 2)).
    let step = 2.0 * (1.0 - (SAGITTA_MM / radius.max(SAGITTA_MM)).min(1.0)).acos();
    let count = (sweep_rad.abs() / step.max(0.01)).ceil().clamp(1.0, 720.0) as usize;
    (1..=count)
        .map(|i| {
            let a = angle + sweep_rad * i as f64 / count as f64;
            [centre[0] + radius * a.cos(), centre[1] + radius * a.sin()]
        })
        .collect()
}

/// A whole circle, its first point repeated.
pub(super) fn circle(centre: [f64; 2], radius: f64) -> Line {
    let mut line = arc([centre[0] + radius, centre[1]], centre, std::f64::consts::TAU);
    line.extend(line.first().copied());
    line
}

/// Closed shapes, without the repeated corner, and how many pieces stayed open.
pub(super) fn close(pieces: Vec<Line>) -> (Vec<Line>, usize) {
    let (mut loops, mut open) = (Vec::new(), Vec::new());
    for mut piece in pieces {
        piece.dedup_by(|a, b| distance(*a, *b) < 1e-9);
        match (piece.first().copied(), piece.last().copied()) {
            (Some(first), Some(last)) if piece.len() > 2 && distance(first, last) < JOIN_MM => {
                piece.pop();
                loops.push(piece);
            }
            _ if piece.len() > 1 => open.push(piece),
            _ => {}
        }
    }
    let mut ends: HashMap<(i64, i64), Vec<usize>> = HashMap::new();
    for (i, piece) in open.iter().enumerate() {
        for end in [piece[0], piece[piece.len() - 1]] {
            ends.entry(cell(end)).or_default().push(i);
        }
    }
    let mut used = vec![false; open.len()];
    let mut left = 0;
    for i in 0..open.len() {
        if used[i] {
            continue;
        }
        used[i] = true;
        let mut chain = open[i].clone();
        let mut taken = 1;
        loop {
            let last = chain[chain.len() - 1];
            if chain.len() > 3 && distance(chain[0], last) < JOIN_MM {
                chain.pop();
                loops.push(chain);
                break;
            }
            let Some(next) = next_at(&mut ends, &open, &used, last) else {
                left += taken;
                break;
            };
            used[next] = true;
            taken += 1;
            if distance(open[next][0], last) < JOIN_MM {
                chain.extend(&open[next][1..]);
            } else {
                chain.extend(open[next].iter().rev().skip(1));
            }
        }
    }
    loops.retain(|l| l.len() > 2 && area(l) > 0.0);
    (loops, left)
}

/// The largest closed shape becomes the outline, those right inside it cut-outs; what was left out is noted.
pub(super) fn outline(design: &mut Design, pieces: Vec<Line>) {
    let (mut loops, open) = close(pieces);
    if open > 0 {
        design.notes.push(format!("{open} lines do not close and were left out"));
    }
    loops.sort_by(|a, b| area(b).total_cmp(&area(a)));
    let mut loops = loops.into_iter();
    let Some(largest) = loops.next() else { return };
    let (mut outside, mut nested) = (0, 0);
    for shape in loops {
        if !contains(&largest, shape[0]) {
            outside += 1;
        } else if design.cutouts.iter().any(|c| contains(c, shape[0])) {
            nested += 1;
        } else {
            design.cutouts.push(shape);
        }
    }
    if outside > 0 {
        design.notes.push(format!("{outside} closed shapes beside the largest were left out"));
    }
    if nested > 0 {
        design.notes.push(format!("{nested} closed shapes within cut-outs were left out"));
    }
    design.outline = Some(largest);
}

/// Area by the shoelace formula, without sign.
pub(super) fn area(shape: &[[f64; 2]]) -> f64 {
    let n = shape.len();
    let twice: f64 = (0..n).map(|i| (shape[i], shape[(i + 1) % n])).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum();
    0.5 * twice.abs()
}

fn contains(shape: &[[f64; 2]], [x, y]: [f64; 2]) -> bool {
    let n = shape.len();
    (0..n).map(|i| (shape[i], shape[(i + 1) % n])).fold(false, |inside, (a, b)| {
        let crosses = (a[1] < y) != (b[1] < y) && x <= a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
        inside != crosses
    })
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

fn touches(piece: &[[f64; 2]], point: [f64; 2]) -> bool {
    distance(piece[0], point) < JOIN_MM || distance(piece[piece.len() - 1], point) < JOIN_MM
}

fn cell([x, y]: [f64; 2]) -> (i64, i64) {
    // Float to integer saturates, so wild coordinates only share cells.
    ((x / JOIN_MM).floor() as i64, (y / JOIN_MM).floor() as i64)
}

/// An unused piece that ends at the point. Used ones are dropped on the way, so that each is looked at once.
fn next_at(ends: &mut HashMap<(i64, i64), Vec<usize>>, open: &[Line], used: &[bool], point: [f64; 2]) -> Option<usize> {
    let (cx, cy) = cell(point);
    for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
        let Some(bucket) = ends.get_mut(&(cx.saturating_add(dx), cy.saturating_add(dy))) else { continue };
        let mut i = 0;
        while i < bucket.len() {
            let piece = bucket[i];
            if used[piece] {
                bucket.swap_remove(i);
            } else if touches(&open[piece], point) {
                return Some(piece);
            } else {
                i += 1;
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loose_lines_close_in_any_order_and_direction() {
        let pieces = vec![
            vec![[0.0, 0.0], [10.0, 0.0]],
            vec![[10.0, 5.0], [10.0, 0.0]],
            vec![[0.0, 5.0], [0.0, 0.0]],
            vec![[10.0, 5.004], [0.0, 5.0]],
            vec![[50.0, 50.0], [60.0, 60.0]],
            circle([5.0, 2.0], 1.0),
            circle([5.0, 2.0], 0.5),
            circle([30.0, 2.0], 1.0),
        ];
        let mut design = Design::default();
        outline(&mut design, pieces);
        assert!((area(design.outline.as_ref().unwrap()) - 50.0).abs() < 0.05);
        assert_eq!(design.cutouts.len(), 1);
        assert_eq!(
            design.notes,
            [
                "1 lines do not close and were left out",
                "1 closed shapes beside the largest were left out",
                "1 closed shapes within cut-outs were left out"
            ]
        );
    }

    #[test]
    fn arcs_stay_within_the_chord_tolerance() {
        for radius in [0.05, 1.0, 30.0, 500.0] {
            let points = circle([3.0, -2.0], radius);
            let full = std::f64::consts::PI * radius * radius;
            // Chords inside the arc lose at most the sagitta times the circumference.
            let most = SAGITTA_MM * std::f64::consts::TAU * radius;
            assert!(full - area(&points) >= 0.0 && full - area(&points) <= most + 1e-9, "{radius}");
            assert!(points.iter().any(|p| distance(*p, [3.0 + radius, -2.0]) < 1e-9));
        }
    }
}
