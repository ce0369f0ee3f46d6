//! A class in numbers.

use std::collections::HashSet;

use serde::Serialize;

use super::Line;

/// What a class did in numbers. Only first tries count: after one the answer is known.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Summary {
    /// First tries.
    pub tries: usize,
    /// Students.
    pub students: usize,
    /// Exercises.
    pub exercises: usize,
    /// First tries that found the fault, or called a healthy board healthy.
    pub found: usize,
    /// Median distance from the part's edge over those that gave a place on its face, in millimetres.
    pub median_mm: Option<f64>,
    /// Median points.
    pub median_points: Option<f64>,
    /// First tries with a plan within the limits.
    pub within_limits: usize,
}

impl Summary {
    /// Counts and medians.
    pub fn of(lines: &[Line]) -> Self {
        let first: Vec<&Line> = lines.iter().filter(|l| l.attempt == 1).collect();
        let distinct = |key: fn(&Line) -> &str| first.iter().map(|l| key(l)).collect::<HashSet<_>>().len();
        Self {
            tries: first.len(),
            students: distinct(|l| &l.student),
            exercises: distinct(|l| &l.exercise),
            found: first.iter().filter(|l| l.found).count(),
            median_mm: median(first.iter().filter_map(|l| l.distance_mm).collect()),
            median_points: median(first.iter().map(|l| f64::from(l.points)).collect()),
            within_limits: first.iter().filter(|l| l.within_limits).count(),
        }
    }

    /// "12 of 15 found the fault; median 1.2 mm from it; median 74 points; plans within the limits: 13".
    pub fn words(&self) -> String {
        let mm = self.median_mm.map(|mm| format!("; median {mm:.1} mm from it")).unwrap_or_default();
        let points = self.median_points.map(|p| format!("; median {p} points")).unwrap_or_default();
        format!(
            "{} of {} found the fault{mm}{points}; plans within the limits: {}",
            self.found, self.tries, self.within_limits
        )
    }
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let upper = values.get(values.len() / 2)?;
    let lower = values.get((values.len() - 1) / 2)?;
    Some((lower + upper) / 2.0)
}
