//! The shop's library: what it is asked, and the work behind it.

use std::{path::PathBuf, sync::Arc};

use super::{
    super::{
        command::Command,
        desk::{DeskCommand, DeskScreen, Page, Pictures, work as library_work},
        work::{self, Outcome},
    },
    App, LIBRARY, PICTURES,
};
use crate::library::{Place, export::What};

impl App {
    /// Carries a command of the library out.
    pub(super) fn desk(&mut self, command: DeskCommand) {
        match command {
            DeskCommand::Open => {
                let earlier_count = self.remembered().library.earlier_cases_count;
                self.screen.desk = Some(DeskScreen { focus: true, earlier_count, ..DeskScreen::default() });
                self.search(false);
            }
            DeskCommand::Close => {
                self.screen.desk = None;
                self.cancel_all(&[LIBRARY, PICTURES]);
            }
            DeskCommand::Search => self.search(false),
            DeskCommand::Rebuild => self.search(true),
            DeskCommand::Folder(folder) => {
                if self.remember(|s| s.library.folder = Some(folder)) {
                    self.desk(DeskCommand::Open);
                }
            }
            DeskCommand::EarlierCount(count) => {
                self.remember(|s| s.library.earlier_cases_count = count);
            }
            DeskCommand::Case(folder) => {
                let page = self.page();
                if let Some(page) = page {
                    self.apply(Command::Open(vec![page.folder.join(folder)]));
                }
            }
            DeskCommand::Export(what, file) => self.export_library(what, file),
            DeskCommand::ExportPlots(file) => {
                if let Some(page) = self.page() {
                    self.start(LIBRARY, move |_| done(library_work::export_plots(&page, &file)));
                }
            }
        }
    }

    fn page(&self) -> Option<Arc<Page>> {
        self.screen.desk.as_ref()?.page.as_ref()?.as_ref().ok().cloned()
    }

    /// The library of this window: as tests set it, else of the user.
    fn library(&self) -> anyhow::Result<Option<Place>> {
        match &self.own_library {
            Some(place) => Ok(Some(place.clone())),
            None => Place::find(None, None),
        }
    }

    fn search(&mut self, anew: bool) {
        let place = self.library();
        let Some(desk) = &mut self.screen.desk else { return };
        match place {
            Err(error) => desk.page = Some(Err(format!("{error:#}"))),
            Ok(None) => desk.no_folder = true,
            Ok(Some(place)) => {
                desk.no_folder = false;
                let text = desk.text.clone();
                self.cancel_all(&[LIBRARY]);
                self.start(LIBRARY, move |progress| {
                    let page = library_work::search(place, &text, anew, progress);
                    Outcome::Library(page.map(Arc::new).map_err(|e| format!("{e:#}")))
                });
            }
        }
    }

    /// Takes what a search found in; small pictures follow.
    pub(super) fn library_found(&mut self, page: Result<Arc<Page>, String>) {
        let Some(desk) = &mut self.screen.desk else { return };
        // A search that was overtaken by typing.
        if page.as_ref().is_ok_and(|p| p.text != desk.text) {
            return;
        }
        desk.page = Some(page);
        let (Some(page), Ok(Some(place))) = (self.page(), self.library()) else { return };
        let known = self.screen.desk.as_ref().map(|d| &d.pictures);
        let wanted = page.found.iter().map(|f| f.row.folder.clone());
        let wanted: Vec<String> = wanted.filter(|f| known.is_none_or(|k| !k.contains_key(f))).collect();
        if !wanted.is_empty() {
            self.cancel_all(&[PICTURES]);
            self.start(PICTURES, move |progress| {
                // A list without pictures is still a list: what failed is asked again next time.
                Outcome::LibraryPictures(library_work::pictures(place, &wanted, progress).unwrap_or_default())
            });
        }
    }

    /// Takes small pictures in.
    pub(super) fn library_pictures(&mut self, pictures: Pictures) {
        let (Some(ctx), Some(desk)) = (&self.ctx, &mut self.screen.desk) else { return };
        for (folder, image) in pictures {
            let handle = ctx.load_texture(&folder, image, egui::TextureOptions::LINEAR);
            desk.pictures.insert(folder, handle);
        }
    }

    fn export_library(&mut self, what: What, file: PathBuf) {
        match self.library() {
            Ok(Some(place)) => {
                let text = self.screen.desk.as_ref().map(|d| d.text.clone()).unwrap_or_default();
                self.start(LIBRARY, move |_| done(library_work::export(place, what, &text, &file)));
            }
            Ok(None) => self.screen.said = Some("choose the library's folder first".into()),
            Err(error) => self.screen.said = Some(format!("{error:#}")),
        }
    }
}

fn done(result: anyhow::Result<String>) -> Outcome {
    match result {
        Ok(words) => Outcome::Done(words),
        Err(error) => Outcome::Failed(work::fault("Could not write", &error)),
    }
}
