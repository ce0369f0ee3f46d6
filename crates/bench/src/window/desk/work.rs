//! The library in the background.

use std::path::Path;

use joulemark_frames::Progress;

use super::{Page, Pictures, svg};
use crate::{
    case::{BadInput, atomic},
    library::{Library, Place, Query, export::What},
};

/// Most small pictures that are made for one list.
const MOST_PICTURES: usize = 60;

/// Searches the library; with `anew` its index is made anew first.
///
/// # Errors
/// One line: a folder that is not there, an index that cannot be used, a search that cannot be read.
pub fn search(place: Place, text: &str, anew: bool, progress: &dyn Progress) -> anyhow::Result<Page> {
    let query = Query::parse(text)?;
    progress.report("looking through the library", 0, 1);
    let folder = place.folder.clone();
    let mut library = Library::open(place)?;
    let refreshed = if anew { library.rebuild()? } else { library.refresh()? };
    let (found, summary) = (library.cases(&query)?, library.summary(&query)?);
    Ok(Page { folder, text: text.to_owned(), found, summary, refreshed })
}

/// Small pictures of cases, as far as they have any. Reading a recording takes a while: it ends early when cancelled.
///
/// # Errors
/// Those of the index.
pub fn pictures(place: Place, folders: &[String], progress: &dyn Progress) -> anyhow::Result<Pictures> {
    let mut library = Library::open(place)?;
    let mut pictures = Vec::new();
    for folder in folders.iter().take(MOST_PICTURES) {
        if progress.cancelled() {
            break;
        }
        let Some(png) = library.thumbnail(folder)? else { continue };
        // What the index holds may have been written by anybody: a picture that is none is left out.
        let Ok(image) = image::load_from_memory_with_format(&png, image::ImageFormat::Png) else { continue };
        let rgba = image.to_rgba8();
        let size = [rgba.width() as usize, rgba.height() as usize];
        pictures.push((folder.clone(), egui::ColorImage::from_rgba_unmultiplied(size, rgba.as_raw())));
    }
    Ok(pictures)
}

/// Writes CSV of what a search finds.
///
/// # Errors
/// Those of the library, or when the file cannot be written.
pub fn export(place: Place, what: What, text: &str, file: &Path) -> anyhow::Result<String> {
    let rows = Library::open(place)?.export(what, &Query::parse(text)?, file)?;
    Ok(format!("{rows} rows written to {}", file.display()))
}

/// Writes the desk's plots as SVG.
///
/// # Errors
/// When the file cannot be written.
pub fn export_plots(page: &Page, file: &Path) -> anyhow::Result<String> {
    atomic::write(file, svg::of(&page.summary).as_bytes()).map_err(|e| BadInput::unwritable(file, &e))?;
    Ok(format!("plots written to {}", file.display()))
}
