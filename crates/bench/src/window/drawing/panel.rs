//! Beside the drawing: what is selected, to the millimetre; find; rails; photo; face.

use egui::{ComboBox, RichText, ScrollArea, Ui};
use joulemark_locate::board::{Board, Face, Mirror, Part, Through};

use super::{
    super::{
        command::{Command, Pick},
        document::Edit,
        session::Session,
    },
    Along, BoardEdit, Draw, Drawing, KINDS, Tool, act, field, names, reading,
    toolbar::capital,
};
use crate::theme::{self, Palette, SMALL, SPACE};

/// Draws the panel.
pub fn show(ui: &mut Ui, session: &Session, drawing: &mut Drawing, out: &mut Vec<Command>) {
    let board = &*session.board;
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        let find = egui::TextEdit::singleline(&mut drawing.typed.find).desired_width(f32::INFINITY);
        let find = ui.add(find.hint_text("Find a part or rail")).accessible_name("Find a part or rail");
        if find.changed() {
            out.push(Command::Draw(Draw::Find(drawing.typed.find.clone())));
        }
        theme::hairline(ui);
        let Some(face) = drawing.face(board) else {
            return;
        };
        if drawing.tool == Tool::Square {
            squaring(ui, face, drawing, out);
            return;
        }
        let mut edit = None;
        let chosen = drawing.chosen(board);
        match chosen.as_slice() {
            [] => edit = edit.or(face_fields(ui, session, face, drawing, out)),
            [one] => {
                edit = one_part(ui, board, one);
                reading::part(ui, session, one);
            }
            several => edit = many(ui, board, several),
        }
        if !chosen.is_empty() {
            actions(ui, chosen.len(), drawing, out);
        }
        if let Some(edit) = edit {
            out.push(Command::Edit(Edit::Board(edit)));
        }
    });
}

/// One part, every field of it.
fn one_part(ui: &mut Ui, board: &Board, part: &Part) -> Option<BoardEdit> {
    let mut new = part.clone();
    theme::section(ui, "Part");
    ui.push_id(&part.designator, |ui| {
        if let Some(name) = field::text(ui, "Designator", &part.designator, 90.0) {
            new.designator = name.trim().to_owned();
        }
        kind(ui, &mut new);
        let mut number = |label: &str, value: &mut f64, above_zero: bool| {
            if let Some(v) = field::number(ui, label, *value).filter(|v| !above_zero || *v > 0.0) {
                *value = v;
            }
        };
        number("x mm", &mut new.x_mm, false);
        number("y mm", &mut new.y_mm, false);
        number("width mm", &mut new.width_mm, true);
        number("height mm", &mut new.height_mm, true);
        number("turn \u{b0}", &mut new.rotation_deg, false);
        rails(ui, board, &mut new);
        if let Some(volts) = field::optional(ui, "Most volts it bears", part.max_volts) {
            new.max_volts = volts;
        }
        if let Some(emissivity) = field::optional(ui, "Emissivity, 0 to 1", part.emissivity)
            && emissivity.is_none_or(|e| e > 0.0 && e <= 1.0)
        {
            new.emissivity = emissivity;
        }
    });
    if new.designator != part.designator && (new.designator.is_empty() || board.part(&new.designator).is_some()) {
        new.designator.clone_from(&part.designator);
    }
    act::change(&[part], vec![new])
}

fn kind(ui: &mut Ui, part: &mut Part) {
    ui.horizontal(|ui| {
        let label = ui.label("Kind");
        let kind = ComboBox::from_id_salt("part kind").selected_text(capital(part.kind.words()));
        let shown = kind.show_ui(ui, |ui| {
            for kind in KINDS {
                ui.selectable_value(&mut part.kind, kind, capital(kind.words()));
            }
        });
        let _ = shown.response.labelled_by(label.id);
    });
}

fn rails(ui: &mut Ui, board: &Board, part: &mut Part) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Rails");
        for rail in &board.rails {
            let mut on = part.rails.contains(&rail.name);
            if ui.checkbox(&mut on, &rail.name).changed() {
                part.rails.retain(|r| *r != rail.name);
                if on {
                    part.rails.push(rail.name.clone());
                }
            }
        }
    });
    let joins = ui.checkbox(&mut part.series, "Joins its rails at DC");
    joins.on_hover_text("A coil, a ferrite, a fuse, a closed switch: a short behind it is seen on both rails");
}

/// Kind and rails of several parts at once.
fn many(ui: &mut Ui, board: &Board, parts: &[&Part]) -> Option<BoardEdit> {
    theme::section(ui, format!("{} parts", parts.len()));
    let mut edit = None;
    let mut common = (*parts.first()?).clone();
    kind(ui, &mut common);
    if common.kind != parts[0].kind {
        let new = parts.iter().map(|p| Part { kind: common.kind, ..(*p).clone() }).collect();
        edit = act::change(parts, new);
    }
    ui.horizontal_wrapped(|ui| {
        ui.label("Rails");
        for rail in &board.rails {
            let on = parts.iter().filter(|p| p.rails.contains(&rail.name)).count();
            let words = if on > 0 && on < parts.len() { format!("{} (some)", rail.name) } else { rail.name.clone() };
            let mut all = on == parts.len();
            if ui.checkbox(&mut all, words).changed() {
                let put = |p: &&Part| {
                    let mut new = (*p).clone();
                    new.rails.retain(|r| *r != rail.name);
                    if all {
                        new.rails.push(rail.name.clone());
                    }
                    new
                };
                edit = act::change(parts, parts.iter().map(put).collect());
            }
        }
    });
    edit
}

fn actions(ui: &mut Ui, count: usize, drawing: &mut Drawing, out: &mut Vec<Command>) {
    theme::hairline(ui);
    let mut button = |ui: &mut Ui, words: &str, key: &str, draw: Draw| {
        if ui.button(words).on_hover_text(key).clicked() {
            out.push(Command::Draw(draw));
        }
    };
    ui.horizontal_wrapped(|ui| {
        button(ui, "Turn 90\u{b0}", "R", Draw::Rotate(90.0));
        button(ui, "Mirror left to right", "M", Draw::Mirror { left_right: true });
        button(ui, "Mirror top to bottom", "Shift+M", Draw::Mirror { left_right: false });
        button(ui, "Copy", "Ctrl+C", Draw::Copy);
        button(ui, "Paste", "Ctrl+V", Draw::Paste);
        button(ui, "Delete", "Delete", Draw::Delete);
        button(ui, "Number anew", "U", Draw::Renumber);
        if count > 1 {
            button(ui, "Align left", "A", Draw::Align(Along::Left));
            button(ui, "Align top", "Shift+A", Draw::Align(Along::Top));
            button(ui, "In a column", "B", Draw::Align(Along::Column));
            button(ui, "In a row", "Shift+B", Draw::Align(Along::Row));
        }
    });
    ui.add_space(SPACE);
    theme::section(ui, "Copies in columns and rows, centre to centre");
    ui.horizontal_wrapped(|ui| {
        let (columns, rows, dx, dy) = &mut drawing.typed.array;
        ui.add(egui::DragValue::new(columns).range(1..=50)).accessible_name("Columns");
        ui.label("by");
        ui.add(egui::DragValue::new(rows).range(1..=50)).accessible_name("Rows");
        let dx_field = egui::DragValue::new(dx).speed(0.1).suffix(" mm");
        ui.add(dx_field).accessible_name("Distance of columns");
        ui.add(egui::DragValue::new(dy).speed(0.1).suffix(" mm")).accessible_name("Distance of rows");
        let draw = Draw::Array { columns: *columns, rows: *rows, dx_mm: *dx, dy_mm: *dy };
        button(ui, "Make copies", "", draw);
    });
}

/// The face, while no part is selected.
fn face_fields(
    ui: &mut Ui,
    session: &Session,
    face: &Face,
    drawing: &mut Drawing,
    out: &mut Vec<Command>,
) -> Option<BoardEdit> {
    let p = Palette::of(ui);
    let board = &*session.board;
    let mut edit = None;
    if let Some(name) = field::text(ui, "Board", &board.name, 150.0) {
        edit = Some(BoardEdit::Name(name));
    }
    theme::section(ui, format!("Face {}", face.name));
    edit = edit.or(face_name(ui, session, face, drawing, out));
    let corners = match face.outline.len() {
        0 => "no outline yet".to_owned(),
        n => format!("outline of {n} corners, {:.0} mm\u{b2}", face.outline_area_mm2()),
    };
    let count = |n: usize, one: &str| if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") };
    ui.label(format!("{}, {}, {corners}", count(face.parts.len(), "part"), count(face.holes.len(), "hole")));
    if let Err(error) = board.check() {
        ui.add(egui::Label::new(RichText::new(format!("Still to do: {error}")).size(SMALL).color(p.caution)).wrap());
    }
    ui.horizontal_wrapped(|ui| {
        let words = if face.photo.is_some() { "Another photo\u{2026}" } else { "Choose a photo\u{2026}" };
        if ui.button(words).clicked() {
            out.push(Command::Pick(Pick::Photo));
        }
        if face.photo.is_some() {
            if ui.button("Square it up").on_hover_text("Q").clicked() {
                out.push(Command::Draw(Draw::Tool(Tool::Square)));
            }
            if ui.button("Remove it").clicked() {
                edit = Some(BoardEdit::Photo { face: face.name.clone(), photo: None });
            }
        }
        if face.outline.is_empty() && ui.button("Outline around the drawing").on_hover_text("Shift+O").clicked() {
            out.push(Command::Draw(Draw::OutlineAround));
        }
    });
    ui.horizontal(|ui| {
        ui.label("Grid");
        ui.add(egui::DragValue::new(&mut drawing.grid_mm).speed(0.05).range(0.0..=10.0).suffix(" mm"))
            .accessible_name("Grid, millimetres; zero for none");
        ui.label("hole");
        ui.add(egui::DragValue::new(&mut drawing.hole_mm).speed(0.1).range(0.2..=50.0).suffix(" mm"))
            .accessible_name("Diameter of the next hole");
    });
    edit = edit.or(behind(ui, board, face));
    edit = edit.or(rail_list(ui, session, drawing, out));
    if let Some(why) = &drawing.typed.refused {
        ui.add(egui::Label::new(RichText::new(why).size(SMALL).color(p.caution)).wrap());
    }
    edit
}

/// The face's name, and taking it out.
fn face_name(
    ui: &mut Ui,
    session: &Session,
    face: &Face,
    drawing: &mut Drawing,
    out: &mut Vec<Command>,
) -> Option<BoardEdit> {
    let mut edit = None;
    ui.push_id(("face", &face.name), |ui| {
        if let Some(name) = field::text(ui, "Face name", &face.name, 110.0) {
            let asked = names::rename_face(&session.document, &face.name, &name);
            drawing.typed.refused = asked.as_ref().err().cloned();
            if let Ok(asked) = asked {
                drawing.face = name.trim().to_owned();
                out.push(Command::Edit(asked));
            }
        }
        if session.board.faces.len() > 1 {
            let asked = names::remove_face(&session.document, &face.name);
            let button = ui.add_enabled(asked.is_ok(), egui::Button::new("Remove this face"));
            let button = button.on_disabled_hover_text(asked.as_ref().err().cloned().unwrap_or_default());
            edit = asked.ok().filter(|_| button.clicked());
        }
    });
    edit
}

/// What lies behind the face, and how it maps over.
fn behind(ui: &mut Ui, board: &Board, face: &Face) -> Option<BoardEdit> {
    if board.faces.len() < 2 {
        return None;
    }
    theme::section(ui, "Behind this face");
    let mut through = face.through.clone();
    let shown = through.as_ref().map_or("nothing stated", |t| t.face.as_str()).to_owned();
    let choice = ComboBox::from_id_salt("behind").selected_text(shown).show_ui(ui, |ui| {
        ui.selectable_value(&mut through, None, "nothing stated");
        for other in board.faces.iter().filter(|f| f.name != face.name) {
            let here = through.as_ref().is_some_and(|t| t.face == other.name);
            if ui.selectable_label(here, &other.name).clicked() && !here {
                through = Some(Through { face: other.name.clone(), mirror: Mirror::X, dx_mm: 0.0, dy_mm: 0.0 });
            }
        }
    });
    let _ = choice.response.accessible_name("Face behind this one");
    if let Some(t) = &mut through {
        ui.horizontal_wrapped(|ui| {
            ui.label("mirrored");
            ui.selectable_value(&mut t.mirror, Mirror::X, "left to right");
            ui.selectable_value(&mut t.mirror, Mirror::Y, "top to bottom");
            ui.selectable_value(&mut t.mirror, Mirror::None, "not");
        });
        for (label, value) in [("then right by, mm", &mut t.dx_mm), ("then down by, mm", &mut t.dy_mm)] {
            if let Some(v) = field::number(ui, label, *value) {
                *value = v;
            }
        }
    }
    (through != face.through).then(|| BoardEdit::Through { face: face.name.clone(), through })
}

/// Rails with their nominal volts, their names, and taking them out.
fn rail_list(ui: &mut Ui, session: &Session, drawing: &mut Drawing, out: &mut Vec<Command>) -> Option<BoardEdit> {
    let board = &*session.board;
    if board.rails.is_empty() {
        return None;
    }
    theme::section(ui, "Rails: nominal volts, name");
    let mut rails = board.rails.clone();
    let mut removed = None;
    for rail in &mut rails {
        let name = rail.name.clone();
        ui.push_id(("rail", &name), |ui| {
            ui.horizontal(|ui| {
                if let Some(volts) = field::optional(ui, &name, rail.nominal_volts) {
                    rail.nominal_volts = volts;
                }
                ui.label("V");
                let label = format!("Name of {name}");
                if let Some(new) = field::unlabelled(ui, &label, &name, 56.0) {
                    let asked = names::rename_rail(&session.document, &name, &new);
                    drawing.typed.refused = asked.as_ref().err().cloned();
                    if let Ok(asked) = asked {
                        // The rail in hand stays in hand.
                        if drawing.rail.as_ref() == Some(&name) {
                            drawing.rail = Some(new.trim().to_owned());
                        }
                        out.push(Command::Edit(asked));
                    }
                }
                let asked = names::remove_rail(&session.document, &name);
                let button = ui.add_enabled(asked.is_ok(), egui::Button::new("\u{d7}").small());
                let why = asked.as_ref().err().cloned().unwrap_or_default();
                let button = button.on_hover_text(format!("Remove {name}")).on_disabled_hover_text(why);
                if button.clicked() {
                    removed = asked.ok();
                }
                let _ = button.accessible_name(format!("Remove rail {name}"));
            });
        });
    }
    removed.or((rails != board.rails).then_some(BoardEdit::Rails(rails)))
}

/// The two lengths, once four corners are clicked.
fn squaring(ui: &mut Ui, face: &Face, drawing: &mut Drawing, out: &mut Vec<Command>) {
    theme::section(ui, "Square the photo up");
    if face.photo.is_none() {
        ui.label("There is no photo under this face yet.");
        if ui.button("Choose a photo\u{2026}").clicked() {
            out.push(Command::Pick(Pick::Photo));
        }
        return;
    }
    ui.label(format!("{} of 4 corners clicked, in any order.", drawing.points.len()));
    let mut entered = false;
    for (i, label) in ["Upper side, mm", "Left side, mm"].into_iter().enumerate() {
        ui.horizontal(|ui| {
            let place = ui.label(label);
            let typed = egui::TextEdit::singleline(&mut drawing.lengths[i]).desired_width(72.0);
            let response = ui.add(typed).labelled_by(place.id);
            if i == 0 && std::mem::take(&mut drawing.typed.focus) {
                response.request_focus();
            }
            entered |= response.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        });
    }
    ui.horizontal(|ui| {
        let ready = drawing.points.len() == 4 && drawing.lengths.iter().all(|l| !l.trim().is_empty());
        let button = ui.add_enabled(ready, egui::Button::new("Square it up"));
        if button.on_disabled_hover_text("Needs four corners and both lengths").clicked() || (entered && ready) {
            out.push(Command::Draw(Draw::Finish));
        }
        if ui.button("Corners anew").clicked() {
            drawing.points.clear();
        }
    });
}
