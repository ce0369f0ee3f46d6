//! Which device a case is about, and what is wrong with it.

use serde::{Deserialize, Serialize};

/// The device on the bench.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Device {
    /// Board model, the same word for all devices of one kind; the drawing's own name where it is empty.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub model: String,
    /// Serial number. The same one in a later case is a comeback.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub serial: String,
    /// What the owner or the technician saw, in their words.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub symptom: String,
    /// When the case was opened, in UTC.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub opened: String,
}

impl Device {
    /// Whether nothing is stated.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}
