//! Lumped bodies, half spaces and thermal waves.

use std::f64::consts::PI;

use nalgebra::Complex;

use super::ierfc;

/// Rise of a lumped body `time_s` after a constant power was switched on: `P R (1 - exp(-t / (R C)))`, kelvin.
///
/// Incropera & DeWitt, chapter 5 (lumped capacitance; good for Biot numbers below 0.1). Zero before the switch.
pub fn lumped_rise_k(power_w: f64, resistance_k_per_w: f64, capacity_j_per_k: f64, time_s: f64) -> f64 {
    -power_w * resistance_k_per_w * (-time_s.max(0.0) / (resistance_k_per_w * capacity_j_per_k)).exp_m1()
}

/// Surface rise of a half space under a constant flux since time zero: `(2 q / k) sqrt(alpha t / pi)`, kelvin.
///
/// Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, section 2.9; Incropera eq. 5.62.
pub fn half_space_surface_rise_k(
    flux_w_per_m2: f64,
    conductivity_w_per_mk: f64,
    diffusivity_m2_per_s: f64,
    time_s: f64,
) -> f64 {
    2.0 * flux_w_per_m2 / conductivity_w_per_mk * (diffusivity_m2_per_s * time_s.max(0.0) / PI).sqrt()
}

/// The same at a depth: `(2 q sqrt(alpha t) / k) ierfc(x / (2 sqrt(alpha t)))`, kelvin.
///
/// Carslaw & Jaeger section 2.9.
pub fn half_space_rise_k(
    flux_w_per_m2: f64,
    conductivity_w_per_mk: f64,
    diffusivity_m2_per_s: f64,
    time_s: f64,
    depth_m: f64,
) -> f64 {
    if time_s <= 0.0 {
        return 0.0;
    }
    let reach_m = (diffusivity_m2_per_s * time_s).sqrt();
    2.0 * flux_w_per_m2 * reach_m / conductivity_w_per_mk * ierfc(depth_m / (2.0 * reach_m))
}

/// Thermal diffusion length `sqrt(alpha / (pi f))`, metres: a one-dimensional thermal wave falls to `1/e` and lags by one
/// radian over it.
///
/// Breitenstein, Warta & Langenkamp, Lock-in Thermography, 2nd ed. 2010, chapter 4.
pub fn diffusion_length_m(diffusivity_m2_per_s: f64, frequency_hz: f64) -> f64 {
    (diffusivity_m2_per_s / (PI * frequency_hz)).sqrt()
}

/// Response of a first-order body at a frequency, `1 / (1 + i w tau)`: its modulus damps, its argument (negative) lags.
///
/// Any control text.
pub fn first_order_response(frequency_hz: f64, tau_s: f64) -> Complex<f64> {
    Complex::new(1.0, 2.0 * PI * frequency_hz * tau_s).inv()
}

#[cfg(test)]
mod tests {
    //! Inputs, values and tolerances are those of the project's page of published checks, section 2.

    use super::*;

    /// Diffusivities of the page's table, m2/s: FR-4 through and in plane (Sarvar, Poole, Witting, J. Electron. Mater. 19
    /// (1990) 1345), copper (Incropera table A.1).
    const FR4_THROUGH: f64 = 1.854054e-7;
    const FR4_IN_PLANE: f64 = 5.724324e-7;
    const COPPER: f64 = 1.165967e-4;

    fn near(found: f64, wanted: f64, relative: f64) {
        assert!((found / wanted - 1.0).abs() < relative, "{found} against {wanted}");
    }

    #[test]
    fn lumped_rise() {
        for (t, wanted) in [(1.0, 0.615335), (10.0, 5.367687), (32.0, 12.642411), (96.0, 19.004259)] {
            near(lumped_rise_k(0.5, 40.0, 0.8, t), wanted, 1e-6);
        }
        // Start slope P/C, seen over a microsecond.
        near(lumped_rise_k(0.5, 40.0, 0.8, 1e-6) / 1e-6, 0.625, 1e-6);
        assert_eq!(lumped_rise_k(0.5, 40.0, 0.8, -1.0), 0.0);
    }

    /// Incropera example 5.1: a thermocouple bead with h 400, rho 8500, cp 400 and tau 1 s is 0.706 mm wide and goes from
    /// 25 to 199 degrees in a stream of 200 in 5.165 s (page: computed 7.0588e-4 m, 5.165 s, four digits).
    #[test]
    fn thermocouple_of_the_textbook() {
        let (h, rho, cp) = (400.0, 8500.0, 400.0);
        let diameter_m: f64 = 7.0588e-4;
        let (area, capacity) = (PI * diameter_m.powi(2), rho * cp * PI * diameter_m.powi(3) / 6.0);
        let resistance = 1.0 / (h * area);
        near(resistance * capacity, 1.0, 1e-4);
        near(25.0 + lumped_rise_k(175.0 / resistance, resistance, capacity, 5.165), 199.0, 1e-5);
    }

    #[test]
    fn half_space_surface() {
        near(half_space_surface_rise_k(1000.0, 0.343, FR4_THROUGH, 1.0), 1.416518, 1e-6);
        near(half_space_surface_rise_k(1000.0, 0.343, FR4_THROUGH, 10.0), 4.479424, 1e-6);
        // The page prints six digits for copper: half of the last one is 1.6e-6 relative.
        near(half_space_surface_rise_k(1000.0, 401.0, COPPER, 1.0), 0.0303846, 2e-6);
        near(half_space_surface_rise_k(1000.0, 401.0, COPPER, 10.0), 0.0960846, 1e-6);
        let slope = (half_space_surface_rise_k(1000.0, 0.343, FR4_THROUGH, 10.0)
            / half_space_surface_rise_k(1000.0, 0.343, FR4_THROUGH, 1.0))
        .log10();
        assert!((slope - 0.5).abs() < 0.002, "{slope}");
    }

    #[test]
    fn half_space_at_depth() {
        near(half_space_rise_k(1000.0, 0.343, FR4_THROUGH, 10.0, 1.0e-3), 2.154759, 1e-6);
        near(half_space_rise_k(1000.0, 0.343, FR4_THROUGH, 10.0, 1.6e-3), 1.277775, 1e-6);
        near(half_space_rise_k(1000.0, 0.343, FR4_THROUGH, 10.0, 0.0), 4.479424, 1e-6);
    }

    #[test]
    fn diffusion_lengths() {
        let table = [
            (FR4_IN_PLANE, [1.349855, 0.426862, 0.134986]),
            (FR4_THROUGH, [0.768221, 0.242933, 0.076822]),
            (COPPER, [19.26496, 6.092117, 1.926496]),
        ];
        for (diffusivity, wanted_mm) in table {
            for (f, wanted) in [0.1, 1.0, 10.0].into_iter().zip(wanted_mm) {
                // 1e-6 relative, and half of the last printed digit.
                let found_mm = diffusion_length_m(diffusivity, f) * 1e3;
                assert!((found_mm - wanted).abs() < 1e-6 * wanted + 6e-7, "{found_mm} against {wanted}");
            }
        }
    }

    #[test]
    fn first_order_lag() {
        let response = first_order_response(0.1, 32.0);
        near(response.norm(), 0.04967452, 1e-6);
        near(response.arg().to_degrees(), -87.15269, 1e-6);
    }
}
