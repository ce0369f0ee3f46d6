//! Which kind of file this is: by its first bytes, and by its name only where the content has no signature.

use std::path::Path;

use image::ImageFormat;

use super::{npy, png};

/// How many bytes [`Kind::of`] wants to see.
pub(super) const HEAD_BYTES: usize = 4096;

/// A kind of file that holds frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// TIFF or BigTIFF.
    Tiff,
    /// PNG of any depth.
    Png,
    /// One NumPy array.
    Npy,
    /// An archive of NumPy arrays.
    Npz,
    /// A matrix of numbers as text.
    Text,
    /// JPEG picture.
    Jpeg,
    /// BMP picture.
    Bmp,
    /// GIF picture or animation.
    Gif,
    /// WebP picture or animation.
    WebP,
    /// AVI video.
    Avi,
    /// Any other video.
    Video,
}

impl Kind {
    /// The kind of a file with this name and these first bytes. `None` when nobody here reads it.
    pub fn of(file: &Path, head: &[u8]) -> Option<Self> {
        let riff = |form: &[u8]| head.starts_with(b"RIFF") && head.get(8..12) == Some(form);
        let at = |from: usize, magic: &[u8]| head.get(from..).is_some_and(|h| h.starts_with(magic));
        Some(match head {
            [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Self::Tiff,
            _ if head.starts_with(png::MAGIC) => Self::Png,
            _ if head.starts_with(npy::MAGIC) => Self::Npy,
            _ if head.starts_with(b"PK\x03\x04") => Self::Npz,
            [0xFF, 0xD8, 0xFF, ..] => Self::Jpeg,
            _ if head.starts_with(b"GIF87a") || head.starts_with(b"GIF89a") => Self::Gif,
            _ if riff(b"WEBP") => Self::WebP,
            _ if riff(b"AVI ") => Self::Avi,
            // ISO base media (MP4, MOV), Matroska, Ogg, MPEG program and transport streams, Flash, ASF.
            _ if [&b"ftyp"[..], b"moov", b"mdat", b"wide", b"free"].iter().any(|m| at(4, m)) => Self::Video,
            [0x1A, 0x45, 0xDF, 0xA3, ..] | [0, 0, 1, 0xBA | 0xB3, ..] | [0x30, 0x26, 0xB2, 0x75, ..] => Self::Video,
            _ if head.starts_with(b"OggS") || head.starts_with(b"FLV\x01") => Self::Video,
            [0x47, ..] if at(188, &[0x47]) && at(376, &[0x47]) => Self::Video,
            [b'B', b'M', ..] if at(6, &[0; 4]) && !is_text(head) => Self::Bmp,
            _ if is_text(head) => Self::Text,
            _ => return Self::of_name(file),
        })
    }

    fn of_name(file: &Path) -> Option<Self> {
        let extension = file.extension()?.to_str()?.to_ascii_lowercase();
        Some(match extension.as_str() {
            "tif" | "tiff" => Self::Tiff,
            "png" => Self::Png,
            "npy" => Self::Npy,
            "npz" => Self::Npz,
            "csv" | "tsv" | "txt" => Self::Text,
            "jpg" | "jpeg" => Self::Jpeg,
            "bmp" => Self::Bmp,
            "gif" => Self::Gif,
            "webp" => Self::WebP,
            "avi" => Self::Avi,
            "mp4" | "m4v" | "mov" | "mkv" | "webm" | "mpg" | "mpeg" | "ts" | "wmv" | "mjpeg" | "mjpg" => Self::Video,
            _ => return None,
        })
    }

    /// The kind in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Tiff => "TIFF",
            Self::Png => "PNG",
            Self::Npy => "NPY",
            Self::Npz => "NPZ",
            Self::Text => "text",
            Self::Jpeg => "JPEG",
            Self::Bmp => "BMP",
            Self::Gif => "GIF",
            Self::WebP => "WebP",
            Self::Avi => "AVI",
            Self::Video => "video",
        }
    }

    pub(super) fn picture_format(self) -> Option<ImageFormat> {
        match self {
            Self::Jpeg => Some(ImageFormat::Jpeg),
            Self::Bmp => Some(ImageFormat::Bmp),
            Self::Gif => Some(ImageFormat::Gif),
            Self::WebP => Some(ImageFormat::WebP),
            _ => None,
        }
    }
}

/// Text has no control characters but line ends and tabs; UTF-16 announces itself.
fn is_text(head: &[u8]) -> bool {
    let plain = |b: &u8| *b >= 0x20 && *b != 0x7F || matches!(b, b'\t' | b'\r' | b'\n' | 0x0C);
    head.starts_with(&[0xFF, 0xFE]) || head.starts_with(&[0xFE, 0xFF]) || (!head.is_empty() && head.iter().all(plain))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn content_goes_before_the_name() {
        for (name, head, wanted) in [
            ("a.csv", &b"II\x2a\0...."[..], Some(Kind::Tiff)),
            ("a.tif", b"\x89PNG\r\n\x1a\n....", Some(Kind::Png)),
            ("a.bin", b"\x93NUMPY\x01\0", Some(Kind::Npy)),
            ("a", b"RIFF\x10\0\0\0AVI LIST", Some(Kind::Avi)),
            ("a", b"\0\0\0\x18ftypmp42", Some(Kind::Video)),
            ("a", b"1.5;2.5\r\n", Some(Kind::Text)),
            ("a", b"BM\x36\0\0\0\0\0\0\0\x36\0", Some(Kind::Bmp)),
            ("a.mov", b"\0\0\0\0\0\0", Some(Kind::Video)),
            ("a.xyz", b"\0\x01\x02\x03", None),
            ("a", b"", None),
        ] {
            assert_eq!(Kind::of(Path::new(name), head), wanted, "{name}");
        }
    }
}
