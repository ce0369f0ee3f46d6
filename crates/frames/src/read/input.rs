//! What a reader works on: the bytes of one file, the limits in force, and the errors that name the file.

use std::{
    borrow::Cow,
    fs::File,
    io::{self, BufReader, Cursor, Read, Seek, SeekFrom},
    path::Path,
};

use super::ReadOptions;
use crate::{FramesError, Progress, StackShape, error::one_line};

/// Bytes that a reader takes from the disk at a time: large enough that a frame is a handful of system calls.
const READ_AHEAD_BYTES: usize = 256 << 10;

/// Where the bytes are.
#[derive(Clone, Copy)]
enum Data<'a> {
    Disk,
    Memory(&'a [u8]),
}

/// One file to be read.
#[derive(Clone, Copy)]
pub(super) struct Input<'a> {
    /// Its path, or only its name when the bytes are in memory.
    pub file: &'a Path,
    /// Length in bytes.
    pub len: u64,
    pub options: &'a ReadOptions,
    pub progress: &'a dyn Progress,
    data: Data<'a>,
}

impl<'a> Input<'a> {
    /// A file on the disk.
    pub fn disk(file: &'a Path, options: &'a ReadOptions, progress: &'a dyn Progress) -> Result<Self, FramesError> {
        let error = |source| FramesError::Io { file: file.to_owned(), source };
        let about = std::fs::metadata(file).map_err(error)?;
        if !about.is_file() {
            // A pipe or device would block or never end.
            return Err(FramesError::Unsupported { file: file.to_owned(), problem: "not a regular file".to_owned() });
        }
        Ok(Self { file, len: about.len(), options, progress, data: Data::Disk })
    }

    /// Bytes in memory; `file` is only named in messages.
    pub fn memory(file: &'a Path, bytes: &'a [u8], options: &'a ReadOptions, progress: &'a dyn Progress) -> Self {
        Self { file, len: bytes.len() as u64, options, progress, data: Data::Memory(bytes) }
    }

    /// Whether other programs can open the file too.
    pub fn is_on_disk(&self) -> bool {
        matches!(self.data, Data::Disk)
    }

    /// A reader at the start of the file. Each call gives an independent one, so that threads can read side by side.
    pub fn open(&self) -> Result<Source<'a>, FramesError> {
        Ok(match self.data {
            Data::Disk => Source::Disk(BufReader::with_capacity(
                READ_AHEAD_BYTES,
                File::open(self.file).map_err(|source| self.io(source))?,
            )),
            Data::Memory(bytes) => Source::Memory(Cursor::new(bytes)),
        })
    }

    /// The first `most` bytes, or fewer when the file is shorter.
    pub fn head(&self, most: usize) -> Result<Vec<u8>, FramesError> {
        let mut head = Vec::new();
        self.open()?.take(most as u64).read_to_end(&mut head).map_err(|source| self.io(source))?;
        Ok(head)
    }

    /// The whole file. Only for pictures, whose files are small; refused above the memory limit.
    pub fn bytes(&self) -> Result<Cow<'a, [u8]>, FramesError> {
        if let Data::Memory(bytes) = self.data {
            return Ok(Cow::Borrowed(bytes));
        }
        self.check_bytes(self.len)?;
        let mut bytes = Vec::new();
        self.open()?.read_to_end(&mut bytes).map_err(|source| self.io(source))?;
        Ok(Cow::Owned(bytes))
    }

    /// Checks that frames of this shape stay within the memory limit. Returns their number of samples.
    pub fn check(&self, shape: StackShape, bytes_per_sample: usize) -> Result<usize, FramesError> {
        // Three 64-bit claims overflow even 128 bits.
        let samples =
            (shape.frames as u128).saturating_mul(shape.height_px as u128).saturating_mul(shape.width_px as u128);
        let bytes = u64::try_from(samples.saturating_mul(bytes_per_sample as u128)).unwrap_or(u64::MAX);
        if samples == 0 {
            return Err(self.malformed(
                "header",
                format!("{} frames of {} x {} pixels hold nothing", shape.frames, shape.width_px, shape.height_px),
                "record again",
            ));
        }
        self.check_bytes(bytes)?;
        usize::try_from(samples).map_err(|_| self.too_large(bytes))
    }

    /// Checks a number of bytes against the memory limit.
    pub fn check_bytes(&self, bytes: u64) -> Result<(), FramesError> {
        if bytes > self.options.memory_limit_bytes { Err(self.too_large(bytes)) } else { Ok(()) }
    }

    fn too_large(&self, bytes: u64) -> FramesError {
        FramesError::TooLarge {
            file: self.file.to_owned(),
            needed_mib: bytes.div_ceil(1 << 20),
            limit_mib: self.options.memory_limit_bytes >> 20,
        }
    }

    /// Refuses headers that promise more than the file can hold. `packed_bytes` are the file's bytes for the frames,
    /// `ratio` the most that the compression can make of one byte.
    pub fn check_expansion(&self, place: &str, needed: u64, packed_bytes: u64, ratio: u64) -> Result<(), FramesError> {
        if needed > packed_bytes.saturating_mul(ratio) {
            return Err(self.malformed(
                place,
                format!("promises {needed} bytes of frames, but the file holds only {packed_bytes} bytes for them"),
                "the file was cut off or its header is damaged; copy or export it again",
            ));
        }
        Ok(())
    }

    /// Reports progress; an error when the user cancelled.
    pub fn step(&self, done: usize, total: usize) -> Result<(), FramesError> {
        if self.progress.cancelled() {
            return Err(FramesError::Cancelled);
        }
        self.progress.report("reading frames", done, total);
        Ok(())
    }

    pub fn io(&self, source: io::Error) -> FramesError {
        FramesError::Io { file: self.file.to_owned(), source }
    }

    pub fn malformed(
        &self,
        place: impl Into<String>,
        problem: impl Into<String>,
        remedy: impl Into<String>,
    ) -> FramesError {
        FramesError::malformed(self.file, place, problem, remedy)
    }

    pub fn unsupported(&self, problem: impl Into<String>) -> FramesError {
        FramesError::Unsupported { file: self.file.to_owned(), problem: one_line(&problem.into()) }
    }
}

/// A reader over an [`Input`].
pub(super) enum Source<'a> {
    Disk(BufReader<File>),
    Memory(Cursor<&'a [u8]>),
}

impl Read for Source<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self {
            Self::Disk(reader) => reader.read(buffer),
            Self::Memory(reader) => reader.read(buffer),
        }
    }

    fn read_exact(&mut self, buffer: &mut [u8]) -> io::Result<()> {
        match self {
            Self::Disk(reader) => reader.read_exact(buffer),
            Self::Memory(reader) => reader.read_exact(buffer),
        }
    }
}

impl io::BufRead for Source<'_> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        match self {
            Self::Disk(reader) => reader.fill_buf(),
            Self::Memory(reader) => reader.fill_buf(),
        }
    }

    fn consume(&mut self, amount: usize) {
        match self {
            Self::Disk(reader) => reader.consume(amount),
            Self::Memory(reader) => reader.consume(amount),
        }
    }
}

impl Seek for Source<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        match self {
            Self::Disk(reader) => reader.seek(to),
            Self::Memory(reader) => reader.seek(to),
        }
    }
}
