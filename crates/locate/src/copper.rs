//! What copper carries and how Joule heat divides. Used as caution lines; never as a permission.

/// Resistivity of annealed copper at 20 °C in ohm metres: 1/58 ohm mm²/m (IEC 60028, 1925).
pub const RESISTIVITY_20_OHM_M: f64 = 1e-6 / 58.0;
/// Temperature coefficient of that resistance at 20 °C, per kelvin (IEC 60028).
pub const ALPHA_20_PER_K: f64 = 0.00393;
/// One thousandth of an inch.
const MIL_MM: f64 = 0.0254;

/// Where a trace lies.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Layer {
    /// Outside, in air.
    Outer,
    /// Inside the board, which gets rid of less heat; assumed where it is not known.
    #[default]
    Inner,
}

impl Layer {
    /// The factor k of the fit.
    fn k(self) -> f64 {
        match self {
            Self::Outer => 0.048,
            Self::Inner => 0.024,
        }
    }
}

/// Amps that warm a trace by `rise_k`: I = k dT^0.44 A^0.725 with A in square mils, the usual fit to the charts of
/// IPC-2221 (the fit is not printed in the standard). Not a number where an input is not above zero.
pub fn trace_amps(width_mm: f64, thickness_um: f64, rise_k: f64, layer: Layer) -> f64 {
    let mil2 = (width_mm / MIL_MM) * (thickness_um * 1e-3 / MIL_MM);
    if width_mm > 0.0 && thickness_um > 0.0 && rise_k > 0.0 {
        layer.k() * rise_k.powf(0.44) * mil2.powf(0.725)
    } else {
        f64::NAN
    }
}

/// Width in millimetres of the trace that `amps` warm by `rise_k`; the inverse of [`trace_amps`].
pub fn trace_width_mm(amps: f64, thickness_um: f64, rise_k: f64, layer: Layer) -> f64 {
    let mil2 = (amps / (layer.k() * rise_k.powf(0.44))).powf(1.0 / 0.725);
    mil2 / (thickness_um * 1e-3 / MIL_MM) * MIL_MM
}

/// Ohms of a square of copper foil at 20 °C.
pub fn sheet_ohms(thickness_um: f64) -> f64 {
    RESISTIVITY_20_OHM_M / (thickness_um * 1e-6)
}

/// Ohms of a trace at a temperature.
pub fn trace_ohms(length_mm: f64, width_mm: f64, thickness_um: f64, deg_c: f64) -> f64 {
    sheet_ohms(thickness_um) * length_mm / width_mm * (1.0 + ALPHA_20_PER_K * (deg_c - 20.0))
}

/// How current and heat divide between the leads and a short on a supply set to `volts` and limited to `amps`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Division {
    /// Current.
    pub amps: f64,
    /// Heat in the short: I²R.
    pub short_watts: f64,
    /// Heat in the leads.
    pub lead_watts: f64,
}

/// Joule's law with the supply's two limits: the lower of them holds.
pub fn divide(volts: f64, amps_limit: f64, short_ohms: f64, lead_ohms: f64) -> Division {
    let total = short_ohms + lead_ohms;
    let amps = if total > 0.0 { (volts / total).min(amps_limit) } else { amps_limit };
    Division { amps, short_watts: amps * amps * short_ohms, lead_watts: amps * amps * lead_ohms }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn near(value: f64, wanted: f64, relative: f64) {
        assert!((value / wanted - 1.0).abs() <= relative, "{value} is not {wanted}");
    }

    const MIL: f64 = 0.0254;
    /// 1.378 mil.
    const OUNCE_UM: f64 = 35.0012;

    // Worked examples of the published chart fit, I = k dT^0.44 A^0.725 (IPC-2221 calculators), relative 1e-5.
    #[test]
    fn traces_carry_what_the_chart_fit_says() {
        near(trace_amps(10.0 * MIL, OUNCE_UM, 10.0, Layer::Outer), 0.885_517, 1e-5);
        near(trace_amps(10.0 * MIL, OUNCE_UM, 10.0, Layer::Inner), 0.442_759, 1e-5);
        near(trace_amps(50.0 * MIL, OUNCE_UM, 10.0, Layer::Outer), 2.844_135, 1e-5);
        near(trace_amps(100.0 * MIL, OUNCE_UM, 10.0, Layer::Outer), 4.701_072, 1e-5);
        near(trace_amps(10.0 * MIL, OUNCE_UM, 20.0, Layer::Outer), 1.201_296, 1e-5);
        near(trace_width_mm(1.0, OUNCE_UM, 10.0, Layer::Outer), 0.300_376, 1e-5);
        near(trace_width_mm(1.0, OUNCE_UM, 10.0, Layer::Inner), 30.764_20 * MIL, 1e-5);
        let double = trace_width_mm(2.0, 35.0, 10.0, Layer::Outer) / trace_width_mm(1.0, 35.0, 10.0, Layer::Outer);
        near(double, 2.601_440, 1e-5);
        assert!(trace_amps(0.0, 35.0, 10.0, Layer::Outer).is_nan());
    }

    // Sheet resistance rho/t and a 100 x 1 mm trace, from IEC 60028's 58 MS/m and 0.393 %/K.
    #[test]
    fn foil_and_traces_have_the_standard_s_resistance() {
        for (um, milliohms) in [(35.0, 0.492_611), (34.8, 0.495_442), (17.5, 0.985_222), (70.0, 0.246_305)] {
            near(1e3 * sheet_ohms(um), milliohms, 2e-6);
        }
        for (deg_c, milliohms) in [(20.0, 49.261_08), (60.0, 57.004_93), (100.0, 64.748_77)] {
            near(1e3 * trace_ohms(100.0, 1.0, 35.0, deg_c), milliohms, 1e-6);
        }
    }

    // Joule's law by hand: 1 V through 0.08 ohm of lead into 0.05 ohm; 1, 2, 3 A into 0.05 ohm.
    #[test]
    fn heat_divides_between_leads_and_short() {
        let d = divide(1.0, f64::INFINITY, 0.05, 0.08);
        near(d.amps, 7.692_308, 1e-6);
        near(d.short_watts, 2.958_580, 1e-6);
        near(d.lead_watts, 4.733_728, 1e-6);
        for (amps, watts) in [(1.0, 0.05), (2.0, 0.2), (3.0, 0.45)] {
            near(divide(10.0, amps, 0.05, 0.0).short_watts, watts, 1e-12);
        }
        // Greatest at R_short = R_lead for a voltage source.
        let at = |r| divide(1.0, f64::INFINITY, r, 0.08).short_watts;
        assert!(at(0.08) > at(0.07) && at(0.08) > at(0.09));
        assert_eq!(divide(1.0, 2.0, 0.0, 0.0).amps, 2.0);
    }
}
