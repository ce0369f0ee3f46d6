//! Writes a recording's samples under a name that says the format. Everything is written beside its destination and
//! renamed into place, so that an interrupted run leaves no half file under the final name.

mod folder;
mod npy;
mod text;
mod tiff;

#[cfg(test)]
mod tests;

use std::{
    fs::File,
    io::{self, BufWriter, Write},
    path::Path,
};

use crate::{FramesError, Progress, Samples, StackShape, read::Recording, read::Scale};

/// Writes the samples of a recording as they are (no law is applied).
///
/// The name decides: `.npy` (`[t, y, x]`, or `[y, x]` for one frame), `.tif` or `.tiff` (one deflated page per frame),
/// `.csv` (blank lines between frames). A name without extension, or one that ends in a separator, becomes a new folder
/// of PNG files (integers) or CSV files (other values). An existing file is replaced, an existing folder never.
///
/// Reading the result gives the same samples and, but for two cases, the same scale: 16-bit relative values become
/// counts, and text knows no difference between 8-bit values and counts.
///
/// # Errors
/// [`FramesError::Malformed`] for a name that says no format, [`FramesError::Io`] when writing fails,
/// [`FramesError::Cancelled`].
pub fn write(recording: &Recording, path: &Path, progress: &dyn Progress) -> Result<(), FramesError> {
    let output = Output { path, shape: recording.samples.shape(), progress };
    let values = Values::of(recording);
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase();
    let is_folder = path.as_os_str().as_encoded_bytes().last().is_some_and(|&b| std::path::is_separator(b.into()));
    match extension.as_str() {
        _ if is_folder => folder::write(&output, values),
        "" => folder::write(&output, values),
        "npy" => output.file(|file| npy::write(&output, values, file)),
        "tif" | "tiff" => output.file(|file| tiff::write(&output, values, file)),
        "csv" => output.file(|file| text::write(&output, values, file)),
        _ => Err(output.malformed(
            format!("'.{extension}' is no format for frames"),
            "end the name in .npy, .tif or .csv, or give a folder name without extension",
        )),
    }
}

/// The samples of all frames in the type they are written in.
#[derive(Clone, Copy)]
enum Values<'a> {
    U8(&'a [u8]),
    U16(&'a [u16]),
    /// Signed 16-bit counts, held as floating point.
    I16(&'a [f32]),
    F32(&'a [f32]),
}

impl<'a> Values<'a> {
    fn of(recording: &'a Recording) -> Self {
        // Readers hand out arrays in standard layout, and so does everything that builds a `Stack`.
        match &recording.samples {
            Samples::U8(a) => Self::U8(a.as_slice().unwrap_or_default()),
            Samples::U16(a) => Self::U16(a.as_slice().unwrap_or_default()),
            Samples::F32(a) => {
                let values = a.as_slice().unwrap_or_default();
                let is_count = |v: &f32| v.fract() == 0.0 && (-32768.0..=32767.0).contains(v);
                let counts = matches!(recording.scale, Scale::Counts { .. }) && values.iter().all(is_count);
                if counts { Self::I16(values) } else { Self::F32(values) }
            }
        }
    }

    /// One frame.
    fn frame(self, frame: usize, pixels: usize) -> Self {
        let range = frame * pixels..(frame + 1) * pixels;
        match self {
            Self::U8(v) => Self::U8(&v[range]),
            Self::U16(v) => Self::U16(&v[range]),
            Self::I16(v) => Self::I16(&v[range]),
            Self::F32(v) => Self::F32(&v[range]),
        }
    }
}

/// Signed counts in their own type.
fn to_i16(values: &[f32]) -> Vec<i16> {
    // `Values::of` checked that they fit.
    values.iter().map(|&v| v as i16).collect()
}

/// Where the frames go.
struct Output<'a> {
    path: &'a Path,
    shape: StackShape,
    progress: &'a dyn Progress,
}

impl Output<'_> {
    fn io(&self, source: io::Error) -> FramesError {
        FramesError::Io { file: self.path.to_owned(), source }
    }

    fn malformed(&self, problem: String, remedy: &str) -> FramesError {
        FramesError::Malformed {
            file: self.path.to_owned(),
            place: "output name".to_owned(),
            problem,
            remedy: remedy.to_owned(),
        }
    }

    /// Reports that so many frames are written; an error when the user cancelled.
    fn step(&self, done: usize) -> Result<(), FramesError> {
        if self.progress.cancelled() {
            return Err(FramesError::Cancelled);
        }
        self.progress.report("writing frames", done, self.shape.frames);
        Ok(())
    }

    /// The folder that the output lies in.
    fn parent(&self) -> &Path {
        match self.path.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        }
    }

    /// Writes one file beside its destination and renames it.
    fn file(
        &self,
        write: impl FnOnce(&mut BufWriter<&mut File>) -> Result<(), FramesError>,
    ) -> Result<(), FramesError> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".joulemark-").suffix(".tmp");
        #[cfg(unix)]
        {
            // As any new file: the user's mask applies. Temporary files alone would be readable by their owner only.
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(std::fs::Permissions::from_mode(0o666));
        }
        let mut temporary = builder.tempfile_in(self.parent()).map_err(|e| self.io(e))?;
        let mut buffered = BufWriter::with_capacity(1 << 20, temporary.as_file_mut());
        write(&mut buffered)?;
        buffered.flush().map_err(|e| self.io(e))?;
        drop(buffered);
        temporary.as_file().sync_all().map_err(|e| self.io(e))?;
        temporary.persist(self.path).map_err(|e| self.io(e.error))?;
        Ok(())
    }
}
