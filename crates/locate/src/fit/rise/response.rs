//! The exact first-order response to power that is constant between frames.

/// Power that is constant from each frame's time until the next, zero before the first.
#[derive(Clone, Copy, Debug)]
pub struct Drive<'a> {
    /// Rising times.
    pub time_s: &'a [f64],
    /// Power from each time on, in any unit.
    pub power: &'a [f64],
}

/// The response at one time and its derivatives.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Response {
    /// `h`, in the unit of the power.
    pub value: f64,
    /// By `ln(tau)`.
    pub by_ln_tau: f64,
    /// By the delay, per second.
    pub by_delay: f64,
}

impl Drive<'_> {
    /// Solves `tau dh/dt = power(t - delay) - h`, `h = 0` at the start, at rising times. Exact for any tau: nothing is
    /// stepped, so onsets between frames and taus far below the frame interval are no special case.
    pub fn response(&self, tau_s: f64, delay_s: f64, at_s: &[f64], mut each: impl FnMut(usize, Response)) {
        let mut state = Response::default();
        let mut interval = 0;
        for (index, at) in at_s.iter().enumerate() {
            let at = at - delay_s;
            if self.time_s.first().is_none_or(|first| at < *first) {
                each(index, Response::default());
                continue;
            }
            while self.time_s.get(interval + 1).is_some_and(|next| *next <= at) {
                let length = self.time_s[interval + 1] - self.time_s[interval];
                state = advance(state, self.power[interval], length, tau_s);
                interval += 1;
            }
            each(index, advance(state, self.power[interval], at - self.time_s[interval], tau_s));
        }
    }
}

fn advance(from: Response, power: f64, length_s: f64, tau_s: f64) -> Response {
    let x = length_s / tau_s;
    let left = (-x).exp();
    let short = from.value - power;
    let value = power + short * left;
    Response { value, by_ln_tau: (from.by_ln_tau + short * x) * left, by_delay: (value - power) / tau_s }
}
