//! The table: one row a rail, one field a quantity. Enter takes a reading and goes on to the next rail.

use egui::{Align, Id, Key, Layout, Rect, RichText, ScrollArea, TextEdit, Ui, UiBuilder, pos2, vec2};
use joulemark_locate::board::Rail;

use super::{
    super::{command::Command, screen::Screen, session::Session},
    ReadingsCommand, ReadingsScreen,
    says::{RailSays, Weight},
};
use crate::{
    case::{
        reading::{Quantity, ReadingEntry, shown},
        typed,
    },
    theme::{Palette, SMALL, SPACE},
};

/// Height of a row.
const ROW: f32 = 28.0;
/// From so many rails on there is a field to find one.
const FILTERED_FROM: usize = 12;

/// Left edges and widths of the columns.
struct Columns {
    rail: f32,
    cell: f32,
    typical: f32,
}

impl Columns {
    fn of(width: f32) -> Self {
        if width < 800.0 {
            Self { rail: 84.0, cell: 84.0, typical: 128.0 }
        } else {
            Self { rail: 120.0, cell: 104.0, typical: 190.0 }
        }
    }

    fn says(&self, width: f32) -> f32 {
        (width - self.rail - 3.0 * self.cell - self.typical - 5.0 * SPACE).max(60.0)
    }
}

/// The field of a rail and a quantity.
fn cell_id(rail: &str, quantity: Quantity) -> Id {
    Id::unique(("reading", rail, quantity))
}

/// Draws the table on what is left of the region.
pub fn show(
    ui: &mut Ui,
    session: &Session,
    readings: &mut ReadingsScreen,
    screen: &mut Screen,
    out: &mut Vec<Command>,
) {
    let p = Palette::of(ui);
    let width = ui.available_width() - 12.0;
    let columns = Columns::of(width);
    let rails: Vec<&Rail> = session
        .board
        .rails
        .iter()
        .filter(|r| readings.filter.is_empty() || r.name.to_lowercase().contains(&readings.filter.to_lowercase()))
        .collect();
    let diode = readings.diode();
    let judged = session.judged();
    row(ui, width, &columns, |ui, column| {
        let text = match column {
            0 if session.board.rails.len() >= FILTERED_FROM => {
                let field = TextEdit::singleline(&mut readings.filter).hint_text("find a rail");
                let _ = ui.add(field.desired_width(columns.rail - 12.0)).accessible_name("Find a rail");
                return;
            }
            0 => "rail",
            1 => "ohms",
            2 => "diode, V",
            3 => "volts",
            4 => "typical",
            _ => "says",
        };
        ui.label(RichText::new(text).size(SMALL).color(p.weak));
    });
    let height = ROW + ui.spacing().item_spacing.y;
    let mut area = ScrollArea::vertical().auto_shrink(false);
    // A field that is to get the keyboard must be on screen to have it.
    if let Some(at) = readings.focus.as_ref().and_then(|(rail, _)| rails.iter().position(|r| r.name == *rail)) {
        let seen = ui.available_height();
        area = area.vertical_scroll_offset((at as f32 * height - seen / 2.0).max(0.0));
    }
    area.show_rows(ui, ROW, rails.len(), |ui, range| {
        for index in range {
            let rail = rails[index];
            let next = rails.get(index + 1).map(|r| r.name.as_str());
            let says = judged.rails.get(&(rail.name.clone(), readings.against.clone()));
            let rect = row(ui, width, &columns, |ui, column| match column {
                0 => name(ui, session, rail, screen, out),
                1 => cell(ui, session, readings, rail, Quantity::Ohms, next, columns.cell, out),
                2 => cell(ui, session, readings, rail, diode, next, columns.cell, out),
                3 => cell(ui, session, readings, rail, Quantity::Volts, next, columns.cell, out),
                4 => typical(ui, says),
                _ => verdict(ui, session, readings, &rail.name, says),
            });
            if ui.rect_contains_pointer(rect) {
                screen.hover_next.rail = Some(rail.name.clone());
            }
        }
    });
}

/// One row of fixed columns.
fn row(ui: &mut Ui, width: f32, columns: &Columns, mut add: impl FnMut(&mut Ui, usize)) -> Rect {
    let (rect, _) = ui.allocate_exact_size(vec2(width, ROW), egui::Sense::hover());
    let widths = [columns.rail, columns.cell, columns.cell, columns.cell, columns.typical, columns.says(width)];
    let mut x = rect.left();
    for (column, width) in widths.into_iter().enumerate() {
        let place = Rect::from_min_size(pos2(x, rect.top()), vec2(width, ROW));
        let mut inner = ui.new_child(UiBuilder::new().max_rect(place).layout(Layout::left_to_right(Align::Center)));
        add(&mut inner, column);
        x += width + SPACE;
    }
    rect
}

fn name(ui: &mut Ui, session: &Session, rail: &Rail, screen: &Screen, out: &mut Vec<Command>) {
    let chosen = session.document.case.rail == rail.name;
    let lit = screen.selection.rail.as_ref() == Some(&rail.name);
    let mark = if chosen { ", chosen" } else { "" };
    let text = RichText::new(format!("{}{mark}", rail.name));
    let response = ui.selectable_label(lit, if chosen { text.strong() } else { text });
    let volts = rail.nominal_volts.map_or("nominal unknown".to_owned(), |v| format!("nominal {v} V"));
    let state = if chosen { ", the shorted rail of this case" } else { "" };
    let response = response.on_hover_text(format!("{volts}{state}. Lights its parts on the board."));
    let response = response.accessible_name(format!("Rail {}, {volts}{state}", rail.name));
    if response.clicked() {
        out.push(Command::SelectRail(rail.name.clone()));
    }
}

#[expect(clippy::too_many_arguments, reason = "a field knows its place in the table")]
fn cell(
    ui: &mut Ui,
    session: &Session,
    readings: &mut ReadingsScreen,
    rail: &Rail,
    quantity: Quantity,
    next: Option<&str>,
    width: f32,
    out: &mut Vec<Command>,
) {
    let p = Palette::of(ui);
    let there = session.reading(&place(session, readings, &rail.name, quantity));
    // The column says the unit.
    let said = there.map_or_else(String::new, |r| shown(r.value, quantity).trim_end_matches(" ohms").to_owned());
    let here = |(r, q, _): &&(String, Quantity, String)| *r == rail.name && *q == quantity;
    let mut text = readings.typing.as_ref().filter(here).map_or_else(|| said.clone(), |(.., text)| text.clone());
    let refused = readings.refused.as_ref().filter(here).map(|(.., why)| why.clone());
    let id = cell_id(&rail.name, quantity);
    let wanted = readings.focus.as_ref().is_some_and(|(r, q)| *r == rail.name && *q == quantity);
    let hint = match quantity {
        _ if width < 96.0 => "OL",
        Quantity::Ohms => "0.2, 4k7, OL",
        _ => "0.412, OL",
    };
    let mut field = TextEdit::singleline(&mut text).id(id).desired_width(width - 14.0).hint_text(hint);
    if refused.is_some() {
        field = field.text_color(p.refusal);
    }
    let output = field.show(ui);
    let response = output.response.response.clone();
    if wanted {
        readings.focus = None;
        response.request_focus();
    }
    let gained = response.gained_focus() || wanted;
    if gained {
        // What is typed replaces what stands there.
        let mut state = output.state;
        let all = egui::text::CCursorRange::select_all(&output.galley);
        state.cursor.set_char_range(Some(all));
        state.store(ui.ctx(), id);
    }
    let aloud = match &refused {
        Some(why) => format!("{}, {}: {why}", rail.name, quantity.words()),
        None => format!("{}, {}", rail.name, quantity.words()),
    };
    let mut response = response.accessible_name(aloud);
    if let Some(why) = &refused {
        response = response.on_hover_text(why);
    } else if let Some(there) = there {
        response = response.on_hover_text(taken(there));
    }
    if response.changed() {
        readings.typing = Some((rail.name.clone(), quantity, text.clone()));
        readings.refused = None;
    }
    if !response.lost_focus() {
        return;
    }
    let (enter, escape) = ui.input(|i| (i.key_pressed(Key::Enter), i.key_pressed(Key::Escape)));
    let typed = readings.typing.take_if(|(r, q, _)| *r == rail.name && *q == quantity);
    if escape {
        readings.refused = None;
        return;
    }
    let mut good = true;
    if let Some((.., text)) = typed.filter(|(.., text)| *text != said) {
        readings.note = None;
        let entered = if text.trim().is_empty() {
            Ok(None)
        } else {
            typed::parse(&text, quantity).map(|typed| {
                readings.note = typed.note;
                Some(typed.value)
            })
        };
        match entered {
            Ok(value) => {
                let rail = rail.name.clone();
                out.push(Command::Readings(ReadingsCommand::Enter { rail, quantity, value }));
            }
            Err(why) => {
                good = false;
                readings.note = Some(why.clone());
                readings.refused = Some((rail.name.clone(), quantity, why));
                readings.typing = Some((rail.name.clone(), quantity, text));
            }
        }
    }
    if enter {
        readings.focus = match next {
            Some(next) if good => Some((next.to_owned(), quantity)),
            _ if !good => Some((rail.name.clone(), quantity)),
            _ => None,
        };
    }
}

/// A reading of nothing yet at the place that the table shows.
pub fn place(session: &Session, readings: &ReadingsScreen, rail: &str, quantity: Quantity) -> ReadingEntry {
    ReadingEntry {
        rail: rail.to_owned(),
        against: readings.against.clone(),
        quantity,
        face: readings.face.clone(),
        after: readings.after.unwrap_or_else(|| session.document.latest_intervention()),
        good_board: readings.good_board,
        ..ReadingEntry::default()
    }
}

/// When and by whom, and what the leads took.
fn taken(reading: &ReadingEntry) -> String {
    let by = if reading.by.is_empty() { "nobody named" } else { &reading.by };
    let when = reading.time.replace('T', " ").replace('Z', " UTC");
    let leads = match (reading.quantity, reading.meter_lead_ohms) {
        (Quantity::Ohms, Some(ohms)) => format!("; the meter's leads of {ohms} ohms are taken off"),
        (Quantity::Ohms, None) => "; nothing is taken off for the meter's leads".to_owned(),
        _ => String::new(),
    };
    format!("{by}, {when}{leads}")
}

fn typical(ui: &mut Ui, says: Option<&RailSays>) {
    let p = Palette::of(ui);
    let Some(says) = says else {
        return;
    };
    let text = RichText::new(&says.typical).size(SMALL).color(p.weak);
    ui.add(egui::Label::new(text).truncate()).on_hover_text(format!("{}\n{}", says.typical, says.source));
}

fn verdict(ui: &mut Ui, session: &Session, readings: &ReadingsScreen, rail: &str, says: Option<&RailSays>) {
    let p = Palette::of(ui);
    let before = session.before_in_words(&place(session, readings, rail, Quantity::Ohms));
    let (mut text, colour) = says.map_or((String::new(), p.weak), |s| (s.says.clone(), s.weight.colour(p)));
    if let Some(before) = before {
        text = if text.is_empty() { before } else { format!("{text}; {before}") };
    }
    let mut words = RichText::new(&text).size(SMALL).color(colour);
    if says.is_some_and(|s| s.weight == Weight::Shorted) {
        words = words.strong();
    }
    ui.add(egui::Label::new(words).truncate()).on_hover_text(text);
}
