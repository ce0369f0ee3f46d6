//! What the window remembers from one start to the next: its size, theme, layer, colours and the bench's grid. Kept in the
//! user's data folder; a damaged file is as good as none.

use std::{
    fs,
    path::{Path, PathBuf},
};

use serde::{Deserialize, Serialize};

use super::screen::{Bench, Layer, Over, Screen};
use crate::{
    case::{atomic, notation},
    theme::ramp::ColourScale,
};

/// Names a file that is used instead of the one in the user's data folder.
pub const WINDOW_VARIABLE: &str = "JOULEMARK_WINDOW";

/// Sizes that a screen can have, in points.
const SIZES: std::ops::RangeInclusive<f32> = 320.0..=16_384.0;
/// A larger file is not ours.
const MOST_BYTES: u64 = 64 << 10;

/// What is remembered. Fields that a file lacks keep their defaults.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Remembered {
    /// Inner size in points; `None` before the window was ever open.
    pub size: Option<[f32; 2]>,
    /// Whether it filled the screen.
    pub maximised: bool,
    /// Dark or light.
    pub bench: Bench,
    /// The layer that the user chose last.
    pub layer: Layer,
    /// The colours.
    pub scale: ColourScale,
    /// The second layer.
    pub over: Option<Over>,
    /// The drawing bench's grid, millimetres.
    pub grid_mm: Option<f64>,
    /// Whether the drawing bench shows what lies behind.
    pub ghost: bool,
    /// Where the last file was taken from.
    pub folder: Option<PathBuf>,
}

impl Remembered {
    /// The file in the user's data folder; `None` where the system names none.
    pub fn file() -> Option<PathBuf> {
        if let Some(file) = std::env::var_os(WINDOW_VARIABLE).filter(|f| !f.is_empty()) {
            return Some(PathBuf::from(file));
        }
        Some(directories::ProjectDirs::from("", "", "joulemark")?.data_dir().join("window.ron"))
    }

    /// What a file says. Whatever is wrong with it, the window opens: with what it can use, or as it would the first time.
    pub fn read(file: &Path) -> Self {
        let small = fs::metadata(file).is_ok_and(|m| m.len() <= MOST_BYTES);
        let text = small.then(|| fs::read_to_string(file).ok()).flatten();
        text.and_then(|t| notation::parse::<Self>(file, &t).ok()).unwrap_or_default().sane()
    }

    /// Without values that no window can have.
    fn sane(mut self) -> Self {
        self.size = self.size.filter(|s| s.iter().all(|v| SIZES.contains(v)));
        self.grid_mm = self.grid_mm.filter(|g| (0.0..=10.0).contains(g));
        self.over = self.over.filter(|o| (0.0..=1.0).contains(&o.share));
        self
    }

    /// Writes it; a folder that cannot be written is not worth a fault, the window then opens as the first time.
    pub fn write(&self, file: &Path) {
        let Some(folder) = file.parent() else { return };
        let Ok(text) = notation::to_ron(self) else { return };
        if fs::create_dir_all(folder).is_ok() {
            // The same reason.
            let _ = atomic::write(file, text.as_bytes());
        }
    }

    /// Gives a fresh screen what is remembered.
    pub fn restore(&self, screen: &mut Screen) {
        screen.bench = self.bench;
        screen.liked = self.layer;
        screen.scale = self.scale;
        screen.liked_over = self.over;
        screen.grid_mm = self.grid_mm;
        screen.ghost = self.ghost;
        screen.last_folder = self.folder.clone().filter(|f| f.is_dir());
    }

    /// What there is to remember of a screen; `old` keeps what a screen does not know.
    pub fn of(screen: &Screen, old: &Self) -> Self {
        let drawing = screen.drawing.as_ref();
        Self {
            bench: screen.bench,
            layer: screen.liked,
            scale: screen.scale,
            over: screen.liked_over,
            grid_mm: drawing.map(|d| d.grid_mm).or(screen.grid_mm),
            ghost: drawing.map_or(screen.ghost, |d| d.ghost),
            folder: screen.last_folder.clone(),
            ..old.clone()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chosen() -> Remembered {
        Remembered {
            size: Some([1024.0, 700.0]),
            maximised: true,
            bench: Bench::Light,
            layer: Layer::Z,
            scale: ColourScale::Cividis,
            over: Some(Over { layer: Layer::Before, share: 0.4, by_value: false }),
            grid_mm: Some(0.25),
            ghost: true,
            folder: Some(std::env::temp_dir()),
        }
    }

    #[test]
    fn what_was_chosen_comes_back() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("deeper/window.ron");
        chosen().write(&file);
        let read = Remembered::read(&file);
        assert_eq!(read, chosen());
        let mut screen = Screen::default();
        read.restore(&mut screen);
        assert_eq!((screen.bench, screen.scale, screen.liked), (Bench::Light, ColourScale::Cividis, Layer::Z));
        assert_eq!(Remembered::of(&screen, &read), chosen(), "nothing is lost on the way through a screen");
    }

    #[test]
    fn damaged_files_open_a_window_as_the_first_time() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("window.ron");
        assert_eq!(Remembered::read(&file), Remembered::default(), "no file");
        let good = notation::to_ron(&chosen()).unwrap();
        for cut in 0..good.len() {
            fs::write(&file, &good[..cut]).unwrap();
            Remembered::read(&file);
        }
        for text in ["", "\0\0\0", "(layer: Heat)", "[1, 2", "(size: \"wide\")"] {
            fs::write(&file, text).unwrap();
            assert_eq!(Remembered::read(&file), Remembered::default(), "{text:?}");
        }
        fs::write(&file, [0xFF_u8, 0xFE, 0x00]).unwrap();
        assert_eq!(Remembered::read(&file), Remembered::default());
    }

    #[test]
    fn values_that_no_window_has_are_left_out_and_older_files_are_read() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("window.ron");
        fs::write(&file, "(size: (inf, 2.0), bench: light, grid_mm: -3.0)").unwrap();
        assert_eq!(Remembered::read(&file), Remembered { bench: Bench::Light, ..Remembered::default() });
    }
}
