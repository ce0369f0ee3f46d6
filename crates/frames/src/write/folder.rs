//! A folder of single frames: PNG for integers, CSV for everything else.

use std::{
    fs::{self, File},
    io::{self, BufWriter, Write},
    path::Path,
    sync::atomic::{AtomicUsize, Ordering},
};

use rayon::prelude::*;

use super::{Output, Values, text};
use crate::FramesError;

pub(super) fn write(output: &Output, values: Values) -> Result<(), FramesError> {
    let taken = match fs::read_dir(output.path) {
        Ok(mut entries) => entries.next().is_some(),
        Err(e) if e.kind() == io::ErrorKind::NotFound => false,
        Err(e) if e.kind() == io::ErrorKind::NotADirectory => true,
        Err(e) => return Err(output.io(e)),
    };
    if taken {
        return Err(output.malformed("already exists and is not empty".to_owned(), "give the name of a new folder"));
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(".joulemark-");
    #[cfg(unix)]
    {
        // As any new folder: the user's mask applies.
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o777));
    }
    let temporary = builder.tempdir_in(output.parent()).map_err(|e| output.io(e))?;
    let shape = output.shape;
    let digits = shape.frames.saturating_sub(1).to_string().len().max(4);
    let done = AtomicUsize::new(0);
    (0..shape.frames).into_par_iter().try_for_each(|frame| {
        let values = values.frame(frame, shape.pixels());
        let extension = if matches!(values, Values::U8(_) | Values::U16(_)) { "png" } else { "csv" };
        let file = temporary.path().join(format!("frame_{frame:0digits$}.{extension}"));
        write_one(&file, values, shape.width_px, shape.height_px).map_err(|e| output.io(e))?;
        output.step(done.fetch_add(1, Ordering::Relaxed) + 1)
    })?;
    fs::rename(temporary.path(), output.path).map_err(|e| output.io(e))?;
    // It is no longer there to be removed.
    let _ = temporary.keep();
    Ok(())
}

fn write_one(path: &Path, values: Values, width_px: usize, height_px: usize) -> io::Result<()> {
    let mut file = BufWriter::new(File::create(path)?);
    match values {
        Values::U8(v) => picture(&mut file, width_px, height_px, png::BitDepth::Eight, v)?,
        Values::U16(v) => {
            let bytes: Vec<u8> = v.iter().flat_map(|v| v.to_be_bytes()).collect();
            picture(&mut file, width_px, height_px, png::BitDepth::Sixteen, &bytes)?;
        }
        Values::I16(_) | Values::F32(_) => text::write_frame(values, width_px, &mut file)?,
    }
    file.flush()?;
    file.get_ref().sync_all()
}

fn picture(
    file: &mut impl Write,
    width_px: usize,
    height_px: usize,
    depth: png::BitDepth,
    bytes: &[u8],
) -> io::Result<()> {
    let size = |pixels| u32::try_from(pixels).map_err(io::Error::other);
    let mut encoder = png::Encoder::new(file, size(width_px)?, size(height_px)?);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(depth);
    encoder.set_compression(png::Compression::Fast);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(bytes)?;
    writer.finish()?;
    Ok(())
}
