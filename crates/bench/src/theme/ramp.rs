//! The colour scales that the window offers, as tables of 256 screen colours.

use egui::Color32;
use serde::{Deserialize, Serialize};

use super::scales::{self, Scale};

/// A perceptually uniform colour scale.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ColourScale {
    /// Black over red to yellow.
    #[default]
    Inferno,
    /// Blue to yellow, alike for every kind of colour vision.
    Cividis,
    /// Purple over green to yellow.
    Viridis,
    /// Black to white.
    Grey,
}

impl ColourScale {
    /// All, in the order of the chooser.
    pub const ALL: [Self; 4] = [Self::Inferno, Self::Cividis, Self::Viridis, Self::Grey];

    /// Its name.
    pub fn words(self) -> &'static str {
        match self {
            Self::Inferno => "inferno",
            Self::Cividis => "cividis",
            Self::Viridis => "viridis",
            Self::Grey => "grey",
        }
    }

    /// Its colours from lowest to highest.
    pub fn table(self) -> [Color32; 256] {
        table(match self {
            Self::Inferno => scales::INFERNO,
            Self::Cividis => scales::CIVIDIS,
            Self::Viridis => scales::VIRIDIS,
            Self::Grey => Scale::Grey,
        })
    }
}

/// The colours of differences: purple where the second is larger, orange where the first is, white where they are alike.
pub fn of_differences() -> [Color32; 256] {
    table(scales::PURPLE_ORANGE)
}

fn table(scale: Scale) -> [Color32; 256] {
    std::array::from_fn(|i| {
        let [r, g, b] = scales::at(scale, i as f32 / 255.0);
        Color32::from_rgb(r, g, b)
    })
}
