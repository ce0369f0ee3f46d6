//! Point sources in an endless thin plate, with and without loss to the air.
//!
//! A plate is thin when it has one temperature through its thickness: times well above `d^2 / alpha` and a small Biot
//! number. A source is a line through the plate; power and energy are those of the whole line.

use std::f64::consts::PI;

use nalgebra::Complex;

use super::{bessel_k0, bessel_k0_complex, exponential_integral, well_function};

/// What a thin plate is made of, seen from above.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThinPlate {
    /// Conductivity times thickness, copper included, W/K.
    pub sheet_w_per_k: f64,
    /// Heat capacity of one square metre of plate, J/(m2 K).
    pub areal_capacity_j_per_m2k: f64,
    /// Loss to the air over both faces together, W/(m2 K); zero for none.
    pub loss_w_per_m2k: f64,
}

impl ThinPlate {
    /// In-plane diffusivity, m2/s.
    pub fn diffusivity_m2_per_s(&self) -> f64 {
        self.sheet_w_per_k / self.areal_capacity_j_per_m2k
    }

    /// Length `L = sqrt(k d / (h1 + h2))` over which a steady rise decays, metres; infinite without loss.
    ///
    /// Carslaw & Jaeger, chapter 10 (thin plates with surface loss).
    pub fn loss_length_m(&self) -> f64 {
        (self.sheet_w_per_k / self.loss_w_per_m2k).sqrt()
    }

    /// Time constant `C / (h1 + h2)` of the whole plate cooling to the air, seconds; infinite without loss.
    pub fn loss_time_s(&self) -> f64 {
        self.areal_capacity_j_per_m2k / self.loss_w_per_m2k
    }

    /// Steady rise at a distance from a constant point source: `Q / (2 pi k d) K0(r / L)`, kelvin. Infinite without loss.
    ///
    /// Carslaw & Jaeger, chapter 10.
    pub fn steady_rise_k(&self, power_w: f64, distance_m: f64) -> f64 {
        power_w / (2.0 * PI * self.sheet_w_per_k) * bessel_k0(distance_m / self.loss_length_m())
    }

    /// Rise at a distance, `time_s` after a point source was switched on:
    /// `Q / (4 pi k d) W(r^2 / (4 alpha t), r / L)`, kelvin; without loss `W` is `E1`. Zero before the switch.
    ///
    /// Carslaw & Jaeger section 10.4; with loss Hantush & Jacob 1955, see [`well_function`].
    pub fn step_rise_k(&self, power_w: f64, distance_m: f64, time_s: f64) -> f64 {
        if time_s <= 0.0 {
            return 0.0;
        }
        let u = distance_m * distance_m / (4.0 * self.diffusivity_m2_per_s() * time_s);
        let shape = if self.loss_w_per_m2k > 0.0 {
            well_function(u, distance_m / self.loss_length_m())
        } else {
            exponential_integral(u)
        };
        power_w / (4.0 * PI * self.sheet_w_per_k) * shape
    }

    /// Rise at a distance, `time_s` after an energy was set free at once:
    /// `E / (4 pi k d t) exp(-r^2 / (4 alpha t) - t / t_loss)`, kelvin. Zero before.
    ///
    /// Carslaw & Jaeger section 10.3; surface loss multiplies by `exp(-t (h1 + h2) / C)`.
    pub fn flash_rise_k(&self, energy_j: f64, distance_m: f64, time_s: f64) -> f64 {
        if time_s <= 0.0 {
            return 0.0;
        }
        let alpha = self.diffusivity_m2_per_s();
        let exponent = -distance_m * distance_m / (4.0 * alpha * time_s)
            - time_s * self.loss_w_per_m2k / self.areal_capacity_j_per_m2k;
        energy_j / (4.0 * PI * self.sheet_w_per_k * time_s) * exponent.exp()
    }

    /// Standard deviation per axis of heat set free at once at a point: `sqrt(2 alpha t)`, metres.
    ///
    /// Carslaw & Jaeger section 10.3.
    pub fn spread_m(&self, time_s: f64) -> f64 {
        (2.0 * self.diffusivity_m2_per_s() * time_s).sqrt()
    }

    /// Complex amplitude at a distance from a source of amplitude `power_w` at a frequency:
    /// `Q / (2 pi k d) K0(r sqrt((i w C + h1 + h2) / (k d)))`, kelvin. A negative argument is a lag.
    ///
    /// Carslaw & Jaeger section 10.4 (periodic source), loss added to the storage term.
    pub fn periodic_rise_k(&self, power_w: f64, distance_m: f64, frequency_hz: f64) -> Complex<f64> {
        let storage = Complex::new(self.loss_w_per_m2k, 2.0 * PI * frequency_hz * self.areal_capacity_j_per_m2k);
        let argument = (storage / self.sheet_w_per_k).sqrt() * distance_m;
        bessel_k0_complex(argument) * (power_w / (2.0 * PI * self.sheet_w_per_k))
    }
}

#[cfg(test)]
mod tests {
    //! Inputs, values and tolerances are those of the project's page of published checks, section 2.

    use super::*;

    /// FR-4 in plane: k 1.059 W/mK, alpha 5.724324e-7 m2/s, 1.6 mm; h1 + h2 of 20 W/m2K where there is loss.
    fn fr4(loss_w_per_m2k: f64) -> ThinPlate {
        let sheet = 1.059 * 1.6e-3;
        ThinPlate { sheet_w_per_k: sheet, areal_capacity_j_per_m2k: sheet / 5.724324e-7, loss_w_per_m2k }
    }

    fn near(found: f64, wanted: f64, relative: f64) {
        assert!((found / wanted - 1.0).abs() < relative, "{found} against {wanted}");
    }

    #[test]
    fn steady_point_source_with_loss() {
        let plate = fr4(20.0);
        near(plate.loss_length_m(), 9.204347e-3, 1e-6);
        let table = [(1.0, 22.03089), (2.0, 15.72163), (5.0, 8.045767), (10.0, 3.499737), (20.0, 0.866466)];
        for (r_mm, wanted) in table {
            near(plate.steady_rise_k(0.1, r_mm * 1e-3), wanted, 1e-5);
        }
    }

    #[test]
    fn steady_point_source_with_loss_and_copper() {
        let plate = ThinPlate { sheet_w_per_k: 0.0297644, ..fr4(20.0) };
        near(plate.loss_length_m(), 38.57745e-3, 1e-5);
        let table = [(1.0, 2.015558), (2.0, 1.645957), (5.0, 1.161641), (10.0, 0.806164), (20.0, 0.478347)];
        for (r_mm, wanted) in table {
            near(plate.steady_rise_k(0.1, r_mm * 1e-3), wanted, 1e-5);
        }
    }

    #[test]
    fn flash_of_energy() {
        let plate = fr4(0.0);
        for (r_mm, wanted) in [(0.0, 0.234825), (2.0, 0.197186), (5.0, 0.0788075)] {
            // Half of the last printed digit is 2.5e-6 relative.
            near(plate.flash_rise_k(0.05, r_mm * 1e-3, 10.0), wanted, 5e-6);
        }
        for (t, wanted_mm) in [(1.0, 1.069984), (10.0, 3.383585), (60.0, 8.288057)] {
            near(plate.spread_m(t) * 1e3, wanted_mm, 1e-6);
        }
        let rise = |t: f64| plate.flash_rise_k(0.05, 5e-3, t);
        // At r = 5 mm the peak comes at 10.918 s; five digits are printed.
        assert!(rise(10.918) > rise(10.9) && rise(10.918) > rise(10.936));
    }

    #[test]
    fn step_of_power_without_loss() {
        near(fr4(0.0).step_rise_k(0.1, 2e-3, 60.0), 14.03395, 1e-6);
        assert_eq!(fr4(0.0).step_rise_k(0.1, 2e-3, 0.0), 0.0);
    }

    /// Late, the step with loss is the steady rise (5e-8: `exp(-t / t_loss)` after 20 loss times, generously); early, it
    /// is the step without loss (loss takes at most `t / t_loss` = 7e-4 of it).
    #[test]
    fn step_of_power_with_loss_lies_between_its_limits() {
        let plate = fr4(20.0);
        let late = 20.0 * plate.loss_time_s();
        near(plate.step_rise_k(0.1, 5e-3, late), plate.steady_rise_k(0.1, 5e-3), 5e-8);
        near(plate.step_rise_k(0.1, 0.5e-3, 0.1), fr4(0.0).step_rise_k(0.1, 0.5e-3, 0.1), 7e-4);
        assert!(plate.step_rise_k(0.1, 5e-3, 60.0) < fr4(0.0).step_rise_k(0.1, 5e-3, 60.0));
    }

    /// The page gives modulus and angle of `K0(r sqrt(i w / alpha))`; unwrapped -290.2599 degrees is +69.7401.
    #[test]
    fn cylindrical_wave() {
        let plate = fr4(0.0);
        let unit = 2.0 * PI * plate.sheet_w_per_k;
        for (r_mm, modulus, degrees) in [(1.0, 0.06445509, -155.4594), (2.0, 0.004434686, 69.7401)] {
            let found = plate.periodic_rise_k(unit, r_mm * 1e-3, 1.0);
            near(found.norm(), modulus, 1e-6);
            near(found.arg().to_degrees(), degrees, 1e-6);
        }
    }
}
