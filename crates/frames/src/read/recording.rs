//! What a reader hands back, before a law and a log make it a [`Take`].

use std::path::PathBuf;

use crate::{CountsLaw, FramesError, Note, Samples, Stack, Take, Timeline, Unit};

/// What the samples of a recording are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// Kelvin-sized floating-point values.
    Kelvin,
    /// Integer counts that need a [`CountsLaw`]. Signed counts are held as floating-point values, exactly.
    Counts {
        /// Bits per sample.
        bits: u8,
    },
    /// Grey values of plain pictures or video, and any other 8-bit samples: too coarse to carry a temperature.
    Relative,
}

/// Frames as the file had them, before a law and a log make them a [`Take`].
#[derive(Clone, Debug)]
pub struct Recording {
    /// The file or folder.
    pub file: PathBuf,
    /// What was found, in words: "TIFF, 240 pages of 16-bit grey, deflate".
    pub description: String,
    /// The samples.
    pub samples: Samples,
    /// What they are.
    pub scale: Scale,
    /// File names of the frames, when the recording is a folder.
    pub names: Vec<String>,
    /// Frame times in seconds, strictly increasing, when the file itself has them (video).
    pub time_s: Option<Vec<f64>>,
    /// Warnings.
    pub notes: Vec<Note>,
}

impl Recording {
    /// Applies law and timeline. A law given for a [`Scale::Kelvin`] or [`Scale::Relative`] recording is applied too:
    /// whoever states a law knows better than the file type.
    ///
    /// # Errors
    /// [`FramesError::LawNeeded`] for counts without a law; [`FramesError::Malformed`] when the timeline has another
    /// number of frames.
    pub fn into_take(self, name: &str, law: Option<CountsLaw>, timeline: Timeline) -> Result<Take, FramesError> {
        let frames = self.samples.shape().frames;
        if timeline.len() != frames {
            return Err(FramesError::Malformed {
                file: self.file,
                place: "timeline".to_owned(),
                problem: format!("{} times for {frames} frames", timeline.len()),
                remedy: "give the log that was written with these frames".to_owned(),
            });
        }
        let (law, unit) = match (self.scale, law) {
            (Scale::Counts { bits }, None) => return Err(FramesError::LawNeeded { file: self.file, bits }),
            (_, Some(law)) => (law, Unit::Kelvin),
            (Scale::Kelvin, None) => (CountsLaw::IDENTITY, Unit::Kelvin),
            (Scale::Relative, None) => (CountsLaw::IDENTITY, Unit::Relative),
        };
        let mut notes = self.notes;
        if self.scale == Scale::Kelvin && law != CountsLaw::IDENTITY {
            notes.push(Note::new(
                format!(
                    "{}: the values are floating-point kelvin already, and the law {law} was applied to them too",
                    self.file.display()
                ),
                "leave the law out unless the file holds counts",
            ));
        }
        Ok(Take { name: name.to_owned(), stack: Stack::new(self.samples, law), unit, timeline, notes })
    }
}
