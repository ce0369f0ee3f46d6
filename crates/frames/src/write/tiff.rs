//! Multi-page TIFF, deflated; BigTIFF when 32-bit offsets might not reach.

use std::io::{self, Seek, Write};

use tiff::{
    TiffError,
    encoder::{
        Compression, DeflateLevel, Predictor, TiffEncoder, TiffKind, TiffKindBig, TiffKindStandard,
        colortype::{Gray8, Gray16, Gray32Float, GrayI16},
    },
};

use super::{Output, Values, to_i16};
use crate::FramesError;

/// Below this the offsets of a plain TIFF surely reach: deflate may grow what it cannot pack by a little, and every
/// page has a header.
const MOST_PLAIN_BYTES: u64 = 3 << 30;

pub(super) fn write(output: &Output, values: Values, file: &mut (impl Write + Seek)) -> Result<(), FramesError> {
    let bytes = match values {
        Values::U8(v) => v.len(),
        Values::U16(v) => 2 * v.len(),
        Values::I16(v) => 2 * v.len(),
        Values::F32(v) => 4 * v.len(),
    };
    let written = if (bytes as u64) < MOST_PLAIN_BYTES && output.shape.frames < 1_000_000 {
        TiffEncoder::<_, TiffKindStandard>::new_generic(file).map_err(Stop::from).and_then(|e| pages(output, values, e))
    } else {
        TiffEncoder::<_, TiffKindBig>::new_generic(file).map_err(Stop::from).and_then(|e| pages(output, values, e))
    };
    written.map_err(|stop| match stop {
        Stop::Tiff(TiffError::IoError(e)) => output.io(e),
        Stop::Tiff(e) => output.io(io::Error::other(e)),
        Stop::Frames(e) => e,
    })
}

/// Why writing stopped.
enum Stop {
    Tiff(TiffError),
    Frames(FramesError),
}

impl From<TiffError> for Stop {
    fn from(error: TiffError) -> Self {
        Self::Tiff(error)
    }
}

fn pages<W: Write + Seek, K: TiffKind>(
    output: &Output,
    values: Values,
    encoder: TiffEncoder<W, K>,
) -> Result<(), Stop> {
    let shape = output.shape;
    let (width, height) = (size(shape.width_px)?, size(shape.height_px)?);
    // Frames are mostly noise: differences of neighbours pack worse than the values, and the fast level hardly packs them
    // at all (3.1 MB against 1.4 MB for a practice take).
    let mut encoder =
        encoder.with_compression(Compression::Deflate(DeflateLevel::Balanced)).with_predictor(Predictor::None);
    for frame in 0..shape.frames {
        match values.frame(frame, shape.pixels()) {
            Values::U8(v) => encoder.write_image::<Gray8>(width, height, v)?,
            Values::U16(v) => encoder.write_image::<Gray16>(width, height, v)?,
            Values::I16(v) => encoder.write_image::<GrayI16>(width, height, &to_i16(v))?,
            Values::F32(v) => encoder.write_image::<Gray32Float>(width, height, v)?,
        }
        output.step(frame + 1).map_err(Stop::Frames)?;
    }
    Ok(())
}

fn size(pixels: usize) -> Result<u32, TiffError> {
    u32::try_from(pixels).map_err(|_| TiffError::IntSizeError)
}
