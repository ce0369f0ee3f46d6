//! Closed forms of heat in thin plates and lumped bodies: what the response bank is built from and what the simulator
//! is checked against. SI units throughout (metres, watts, kelvin, seconds); each function names its source.

mod special;

pub use special::exponential_integral;
