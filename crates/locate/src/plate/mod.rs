//! Closed forms of heat in thin plates and lumped bodies: what the response bank is built from and what the simulator
//! is checked against. SI units throughout (metres, watts, kelvin, seconds); each function names its source.

mod bodies;
mod special;
mod thin;

pub use bodies::{
    diffusion_length_m, first_order_response, half_space_rise_k, half_space_surface_rise_k, lumped_rise_k,
};
pub use special::{bessel_k0, bessel_k0_complex, exponential_integral, ierfc, well_function};
pub use thin::ThinPlate;
