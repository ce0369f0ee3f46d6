//! The new-case form. Each fault is shown under the field that causes it.

use egui::{ComboBox, DragValue, Id, Modal, RichText, ScrollArea, Ui};

use super::super::{
    command::{Command, Pick},
    drawing::shelf::ShelfCommand,
    form::{Draft, LawChoice, Onset},
};
use crate::{
    case::shows::Shows,
    theme::{self, Palette, SMALL, SPACE},
};

/// Width of the labels.
const LABELS: f32 = 112.0;

/// Draws the form when it is open. `busy` says that it is being read or proposed.
pub fn show(ui: &Ui, draft: &mut Draft, busy: bool, out: &mut Vec<Command>) {
    let screen = ui.ctx().content_rect().size();
    Modal::new(Id::unique("new case")).show(ui.ctx(), |ui| {
        let p = Palette::of(ui);
        ui.set_width(620.0_f32.min(screen.x - 80.0));
        let title = if draft.into.is_some() {
            format!("Add a take to {}", draft.name)
        } else {
            "New case from files".to_owned()
        };
        ui.label(RichText::new(title).strong());
        ui.label(RichText::new("Drop files onto the window, type paths, or choose them.").size(SMALL).color(p.weak));
        ui.add_space(SPACE);
        ScrollArea::vertical().max_height((screen.y - 240.0).max(160.0)).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 6.0;
            fields(ui, draft, busy, out);
        });
        theme::hairline(ui);
        let missing = draft.missing();
        ui.horizontal(|ui| {
            let ready = missing.is_empty() && !busy;
            // Without pairs there is nothing to locate yet: lining up comes first.
            let go = match (&draft.into, draft.pairs.trim().is_empty()) {
                (Some(_), _) => "Add the take",
                (None, true) => "Read",
                (None, false) => "Locate",
            };
            let enter = ui.input_mut(|i| i.consume_key(egui::Modifiers::COMMAND, egui::Key::Enter));
            let go = ui.add_enabled(ready, egui::Button::new(RichText::new(go).strong()));
            if go.on_hover_text("Ctrl+Enter").clicked() || (ready && enter) {
                out.push(Command::LocateForm);
            }
            if draft.into.is_none()
                && ui.button("Draw the board").on_hover_text("No drawing yet? Make one from a photo").clicked()
            {
                out.push(Command::NewDrawing(draft.name.clone()));
            }
            if ui.button("Close").clicked() {
                out.push(Command::CloseForm);
            }
            if let Some(first) = missing.first() {
                ui.add(egui::Label::new(RichText::new(first).size(SMALL).color(p.caution)).wrap());
            }
        });
    });
}

fn row(ui: &mut Ui, label: &str, add: impl FnOnce(&mut Ui, Id)) {
    ui.horizontal(|ui| {
        let place = ui.allocate_ui_with_layout(
            egui::vec2(LABELS, ui.spacing().interact_size.y),
            egui::Layout::left_to_right(egui::Align::Center),
            |ui| {
                ui.set_min_width(LABELS);
                ui.label(label)
            },
        );
        add(ui, place.inner.id);
    });
}

/// A line under a field, indented to it.
fn note(ui: &mut Ui, text: &str, wrong: bool) {
    let p = Palette::of(ui);
    ui.horizontal(|ui| {
        ui.add_space(LABELS + SPACE);
        let colour = if wrong { p.refusal } else { p.weak };
        ui.add(egui::Label::new(RichText::new(text).size(SMALL).color(colour)).wrap());
    });
}

fn path(ui: &mut Ui, label: &str, text: &mut String, picks: &[(&str, Pick)], out: &mut Vec<Command>) {
    row(ui, label, |ui, id| {
        // Room for the buttons, so that they stay in line.
        let width = (ui.available_width() - 92.0 * picks.len() as f32).max(120.0);
        let field = ui.add(egui::TextEdit::singleline(text).desired_width(width).hint_text("path")).labelled_by(id);
        // The form opens ready for the first path.
        if text.is_empty() && label == "Frames" && ui.ctx().memory(|m| m.focused().is_none()) {
            field.request_focus();
        }
        for (words, pick) in picks {
            if ui.button(*words).on_hover_text(format!("Choose: {label}")).clicked() {
                out.push(Command::Pick(*pick));
            }
        }
    });
}

fn fields(ui: &mut Ui, draft: &mut Draft, busy: bool, out: &mut Vec<Command>) {
    let (label, name) = match draft.into {
        Some(_) => ("Name of the take", &mut draft.take_name),
        None => ("Device, serial", &mut draft.name),
    };
    row(ui, label, |ui, id| {
        ui.add(egui::TextEdit::singleline(name).desired_width(f32::INFINITY)).labelled_by(id);
    });
    if draft.into.is_some() {
        shows(ui, draft);
    }
    let picks = [("File\u{2026}", Pick::FramesFile), ("Folder\u{2026}", Pick::FramesFolder)];
    path(ui, "Frames", &mut draft.frames, &picks, out);
    match &draft.frames_found {
        Some((path, found)) if *path == draft.frames => match found {
            Ok(found) => note(ui, &format!("{}, {} frames", found.description, found.frames), false),
            Err(error) => note(ui, error, true),
        },
        _ if draft.frames.trim().is_empty() => {}
        _ => note(ui, "not read yet", false),
    }
    if draft.asks_law() {
        law(ui, draft);
    }
    path(ui, "Capture log", &mut draft.log, &[("File\u{2026}", Pick::Log)], out);
    match &draft.files_found.log {
        Some(Ok(rows)) => note(ui, &format!("{rows} rows"), false),
        Some(Err(error)) => note(ui, error, true),
        None => {}
    }
    onset(ui, draft, busy, out);
    if draft.log.trim().is_empty() && draft.frames_read().is_some_and(|f| !f.timed) {
        row(ui, "Frames a second", |ui, id| {
            ui.add(egui::TextEdit::singleline(&mut draft.rate_hz).desired_width(80.0)).labelled_by(id);
        });
    }
    if draft.into.is_none() {
        path(ui, "Board drawing", &mut draft.board, &[("File\u{2026}", Pick::Board)], out);
        row(ui, "", |ui, _| {
            if ui.button("From the shelf\u{2026}").on_hover_text("A drawing kept from an earlier device").clicked() {
                out.push(Command::Shelf(ShelfCommand::Open));
            }
        });
        if let Some(Err(error)) = &draft.files_found.board {
            note(ui, error, true);
        }
    }
    if let Some(board) = draft.board_read().cloned() {
        row(ui, "Shorted rail", |ui, id| {
            let rails = board.rails.iter().map(|r| {
                (
                    r.name.clone(),
                    format!("{}  {}", r.name, r.nominal_volts.map_or("nominal unknown".into(), |v| format!("{v} V"))),
                )
            });
            choice(ui, "form rail", id, &mut draft.rail, rails);
        });
        row(ui, "Side in picture", |ui, id| {
            let faces = board.faces.iter().map(|f| (f.name.clone(), f.name.clone()));
            choice(ui, "form face", id, &mut draft.face, faces);
        });
    }
    path(ui, "Point pairs", &mut draft.pairs, &[("File\u{2026}", Pick::Pairs)], out);
    match &draft.files_found.pairs {
        Some(Ok(pairs)) => note(ui, &format!("{} pairs", pairs.len()), false),
        Some(Err(error)) => note(ui, error, true),
        None => note(ui, "without them you line the picture up by hand afterwards", false),
    }
    // An open case has them already.
    if draft.into.is_none() {
        row(ui, "Leads, ohms", |ui, id| {
            let field = egui::TextEdit::singleline(&mut draft.lead_ohms).desired_width(80.0).hint_text("unknown");
            ui.add(field).labelled_by(id).on_hover_text("Both leads together, measured with their tips shorted");
        });
    }
}

/// What the take shows, and what the hands must know where it is no injection.
fn shows(ui: &mut Ui, draft: &mut Draft) {
    row(ui, "It shows", |ui, _| {
        for shows in Shows::ALL {
            // A name that was typed stays.
            let named = draft.named_by_kind();
            if ui.radio_value(&mut draft.shows, shows, shows.words()).changed() && named {
                draft.name_by_kind();
            }
        }
    });
    if let Some(look_for) = draft.shows.look_for() {
        note(ui, &format!("{look_for} Nothing is computed from it."), false);
    }
    for caution in draft.shows.cautions() {
        note(ui, caution, true);
    }
}

fn choice(ui: &mut Ui, salt: &str, label: Id, value: &mut String, options: impl Iterator<Item = (String, String)>) {
    let shown = if value.is_empty() { "choose\u{2026}" } else { value.as_str() };
    let response = ComboBox::from_id_salt(salt)
        .width(200.0)
        .selected_text(shown.to_owned())
        .show_ui(ui, |ui| {
            for (name, words) in options {
                ui.selectable_value(value, name, words);
            }
        })
        .response;
    let _ = response.labelled_by(label);
}

fn law(ui: &mut Ui, draft: &mut Draft) {
    row(ui, "A count means", |ui, _| {
        ui.radio_value(&mut draft.law, LawChoice::Centikelvin, "0.01 K (centikelvin)");
        ui.radio_value(&mut draft.law, LawChoice::Linear, "gain and offset");
        if draft.law == LawChoice::Linear {
            let gain = egui::TextEdit::singleline(&mut draft.gain).desired_width(64.0).hint_text("K a count");
            ui.add(gain).accessible_name("Gain, kelvin per count");
            let offset = egui::TextEdit::singleline(&mut draft.offset).desired_width(64.0).hint_text("K at 0");
            ui.add(offset).accessible_name("Offset, kelvin at count zero");
        }
    });
    if draft.counts().is_none() {
        note(ui, "These frames hold counts, not kelvin. State what a count means; the camera's manual says it.", true);
    }
}

fn onset(ui: &mut Ui, draft: &mut Draft, busy: bool, out: &mut Vec<Command>) {
    row(ui, "Injection starts", |ui, _| {
        ui.radio_value(&mut draft.onset, Onset::Log, "as the log says");
        ui.radio_value(&mut draft.onset, Onset::Frame, "at frame");
        let last = draft.frames_read().map_or(usize::MAX, |f| f.frames.saturating_sub(1));
        let frame = DragValue::new(&mut draft.onset_frame).range(0..=last);
        ui.add_enabled(draft.onset == Onset::Frame, frame).accessible_name("First injected frame");
        let ready = draft.frames_read().is_some() && !busy && !(draft.asks_law() && draft.counts().is_none());
        if ui
            .add_enabled(ready, egui::Button::new("Propose"))
            .on_hover_text("Looks in the recording for when warming starts; you confirm")
            .on_disabled_hover_text("Needs the frames, and what a count means")
            .clicked()
        {
            out.push(Command::ProposeOnset);
        }
    });
    let mut agreed = None;
    match &draft.proposal {
        Some(Ok(proposal)) => {
            let (frame, chance) = (proposal.frame, super::super::words::percent(proposal.confidence));
            let text =
                format!("Warming seems to start at frame {frame}, {:.2} s ({chance} within a frame).", proposal.time_s);
            note(ui, &text, false);
            ui.horizontal(|ui| {
                ui.add_space(LABELS + SPACE);
                if ui.button(format!("Yes, frame {frame}")).clicked() {
                    agreed = Some(frame);
                }
            });
        }
        Some(Err(why)) => note(ui, why, true),
        None => {}
    }
    if let Some(frame) = agreed {
        (draft.onset, draft.onset_frame, draft.proposal) = (Onset::Frame, frame, None);
    }
}
