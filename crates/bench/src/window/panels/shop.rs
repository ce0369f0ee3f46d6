//! The shop's letterhead and paper, as its reports carry them.

use std::path::PathBuf;

use egui::{Id, Modal, RichText, TextEdit, Ui};

use super::super::{command::Command, screen::Screen};
use crate::{
    case::settings::{Paper, Shop},
    theme::{Palette, SMALL, SPACE},
};

/// What is typed in the dialog.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ShopDraft {
    /// Name.
    pub name: String,
    /// Address, line by line.
    pub address: String,
    /// Path of the logo; may be empty.
    pub logo: String,
    /// Paper.
    pub paper: Paper,
}

impl ShopDraft {
    /// What is remembered.
    pub fn of(shop: &Shop) -> Self {
        let logo = shop.logo.as_ref().map(|l| l.display().to_string()).unwrap_or_default();
        Self { name: shop.name.clone(), address: shop.address.join("\n"), logo, paper: shop.paper }
    }

    /// What is to be remembered.
    pub fn shop(&self) -> Shop {
        let logo = self.logo.trim();
        Shop {
            name: self.name.trim().to_owned(),
            address: self.address.lines().map(str::trim).filter(|l| !l.is_empty()).map(str::to_owned).collect(),
            logo: (!logo.is_empty()).then(|| PathBuf::from(logo)),
            paper: self.paper,
        }
    }
}

/// Draws the dialog when it is open.
pub fn show(ui: &Ui, screen: &mut Screen, out: &mut Vec<Command>) {
    let Some(mut draft) = screen.shop.take() else {
        return;
    };
    let mut close = false;
    let response = Modal::new(Id::unique("shop")).show(ui.ctx(), |ui| {
        let p = Palette::of(ui);
        ui.set_width(520.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        ui.label(RichText::new("Shop").strong());
        ui.label(RichText::new("The letterhead of reports, and the paper in the printer.").size(SMALL).color(p.weak));
        ui.add_space(SPACE);
        egui::Grid::new("shop").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
            let label = ui.label("name of the shop");
            let field = ui.add(TextEdit::singleline(&mut draft.name).desired_width(320.0)).labelled_by(label.id);
            if ui.ctx().memory(|m| m.focused()).is_none() {
                field.request_focus();
            }
            ui.end_row();
            let label = ui.label("address");
            let field = TextEdit::multiline(&mut draft.address).desired_width(320.0).desired_rows(3);
            ui.add(field).labelled_by(label.id);
            ui.end_row();
            let label = ui.label("logo");
            let field =
                TextEdit::singleline(&mut draft.logo).desired_width(320.0).hint_text("path of a PNG or JPEG file");
            ui.add(field).labelled_by(label.id);
            ui.end_row();
            ui.label("paper");
            ui.horizontal(|ui| {
                ui.radio_value(&mut draft.paper, Paper::A4, "A4");
                ui.radio_value(&mut draft.paper, Paper::Letter, "Letter");
            });
            ui.end_row();
        });
        ui.add_space(SPACE);
        ui.horizontal(|ui| {
            if ui.button("Remember it").clicked() {
                out.push(Command::SetShop(Box::new(draft.clone())));
                close = true;
            }
            close |= ui.button("Close").clicked();
        });
    });
    if !close && !response.backdrop_response.clicked() {
        screen.shop = Some(draft);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_letterhead_survives_the_dialog() {
        let shop = Shop {
            name: "Buoy bench".into(),
            address: vec!["Quay 3".into(), "Harbour".into()],
            logo: Some("logo.png".into()),
            paper: Paper::Letter,
        };
        assert_eq!(ShopDraft::of(&shop).shop(), shop);
        assert_eq!(ShopDraft::default().shop(), Shop::default());
    }
}
