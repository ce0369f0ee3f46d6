//! Candidate responses to the injection.
//!
//! *First order*: a lumped body, `dh/dt = (p - h)/tau` (Incropera, Fundamentals of Heat and Mass Transfer, ch. 5).
//! *Plate*: a pixel beside a continuous line source in a plate, `h = E1(t_r/t)` with `t_r = r^2/(4 alpha)` (Carslaw &
//! Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, sec. 10.4). A pixel beside the source is not first order, and
//! forcing it to be would bias the onset.

use nalgebra::DVector;
use rayon::prelude::*;

use super::Drive;
use crate::plate::exponential_integral;

/// Time constants per decade: neighbours correlate by more than 0.99, so nothing falls between them.
const PER_DECADE: f64 = 6.0;

/// The form of a response.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Response {
    /// A lumped body with time constant `tau_s`.
    FirstOrder {
        /// Seconds.
        tau_s: f64,
    },
    /// A plate at the distance that heat diffuses in `reach_s = r^2/(4 alpha)`.
    Plate {
        /// Seconds.
        reach_s: f64,
    },
}

/// A response with its place in the compressed space.
#[derive(Clone, Debug)]
pub struct Member {
    /// The form.
    pub response: Response,
    /// Coordinates of the unit-length, level-free response in the model's vectors; of length 1 but for what the
    /// compression loses.
    pub coordinates: DVector<f64>,
    /// Length of the level-free response for amplitude 1.
    pub norm: f64,
    /// The response for amplitude 1 at the last injected frame.
    pub end: f64,
}

/// All candidates, sampled at the frames.
pub(super) fn responses(drive: &Drive) -> Vec<(Response, DVector<f64>)> {
    let interval_s = drive.interval_s();
    let duration_s = drive.duration_s();
    let first_order = grid(interval_s / 2.0, 3.0 * duration_s).map(|tau_s| Response::FirstOrder { tau_s });
    let plate = grid(interval_s / 2.0, duration_s / 2.0).map(|reach_s| Response::Plate { reach_s });
    let all: Vec<Response> = first_order.chain(plate).collect();
    all.into_par_iter().map(|response| (response, sampled(drive, response))).collect()
}

/// A response to the drive, one value per frame.
pub(super) fn sampled(drive: &Drive, response: Response) -> DVector<f64> {
    let steps = drive.steps();
    DVector::from_iterator(
        drive.time_s.len(),
        drive.time_s.iter().map(|&t| {
            steps
                .iter()
                .take_while(|s| s.time_s < t)
                .map(|s| s.change * step_response(response, t - s.time_s))
                .sum::<f64>()
        }),
    )
}

fn step_response(response: Response, age_s: f64) -> f64 {
    match response {
        Response::FirstOrder { tau_s } => -(-age_s / tau_s).exp_m1(),
        Response::Plate { reach_s } => exponential_integral(reach_s / age_s),
    }
}

fn grid(from: f64, to: f64) -> impl Iterator<Item = f64> {
    let decades = (to / from).log10().max(0.0);
    let steps = (decades * PER_DECADE).ceil().max(1.0) as usize;
    (0..=steps).map(move |i| from * (to / from).max(1.0).powf(i as f64 / steps as f64))
}

#[cfg(test)]
mod tests {
    use joulemark_frames::Timeline;

    use super::*;

    #[test]
    fn first_order_steps_superpose() {
        let mut timeline = Timeline::steady(8, 1.0);
        timeline.injecting = vec![false, true, true, false, false, true, true, true];
        let drive = Drive::from_timeline(&timeline, 0.0);
        let h = sampled(&drive, Response::FirstOrder { tau_s: 2.0 });
        let g = |age: f64| if age > 0.0 { 1.0 - (-age / 2.0).exp() } else { 0.0 };
        for i in 0..8 {
            let t = i as f64;
            // The log says on in frame 1 and off in frame 0: the switch was turned between them.
            let wanted = g(t - 0.5) - g(t - 2.5) + g(t - 4.5);
            assert!((h[i] - wanted).abs() < 1e-12, "frame {i}");
        }
    }
}
