//! Readings: from the case to the engine's, and what it says about them in the window's words.

use super::super::session::Session;

pub(super) struct NetOhms {
    pub ohms: f64,
    pub low_ohms: f64,
    pub high_ohms: f64,
}
pub(super) fn net_ohms(_session: &Session, _rail: &str) -> Option<NetOhms> {
    None
}
pub(super) fn diode_volts(_session: &Session, _rail: &str) -> Option<f64> {
    None
}
