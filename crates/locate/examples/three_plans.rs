//! Prints the three worked plans of docs/limits.md.

use joulemark_locate::limits::{Back, Camera, Inputs, LIMITS_RON, RailUse, Rules, plan};

fn main() {
    let camera = Some(Camera { netd_k: 0.05, rate_hz: 9.0, frames_before: 45 });
    let common = Inputs { camera, lead_ohms: Some(0.05), back_driven: Back::None, ..Inputs::default() };
    let read = ron::from_str::<Rules>(LIMITS_RON).map_err(|e| e.to_string());
    let rules = read.and_then(|r| r.checked().map_err(|e| e.to_string())).unwrap_or_default();
    for inputs in [
        Inputs {
            rail: "VIN".into(),
            kind: Some(RailUse::MainInput),
            nominal_volts: Some(12.0),
            ohms: Some(0.2),
            ohms_doubt: 0.02,
            probe_most_amps: Some(5.0),
            ..common.clone()
        },
        Inputs {
            rail: "VCORE".into(),
            kind: Some(RailUse::Core),
            nominal_volts: Some(1.1),
            ohms: Some(5.0),
            ohms_doubt: 0.05,
            ..common.clone()
        },
        Inputs { rail: "VX".into(), ohms: Some(40.0), ohms_doubt: 0.1, back_driven: Back::Unknown, ..common.clone() },
    ] {
        println!("{}", plan(&inputs, &rules).table());
    }
}
