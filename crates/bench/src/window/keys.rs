//! The keyboard. Plain keys are left alone while text is typed or a dialog is open.

use egui::{Context, FocusDirection, Key, KeyboardShortcut, Modifiers, Popup};

use super::{
    command::{Command, Pick},
    drawing, exercise,
    handout::{self, HandoutCommand},
    lining::{self, LiningCommand},
    panels::stages,
    screen::Screen,
    stage::Stage,
};
use crate::case::intervention::Doing;

const CTRL_SHIFT: Modifiers = Modifiers { shift: true, ..Modifiers::COMMAND };

/// Turns keys into commands.
pub fn read(ctx: &Context, screen: &Screen, out: &mut Vec<Command>) {
    if screen.handout.presenting.is_some() && screen.fault.is_none() {
        out.extend(handout::present::asked(ctx).into_iter().map(|turn| Command::Handout(HandoutCommand::Turn(turn))));
        return;
    }
    let modal = screen.palette.is_some()
        || screen.path.is_some()
        || screen.import.is_some()
        || screen.shelf.is_some()
        || screen.fault.is_some()
        || screen.form.is_some()
        || screen.readings.paste.is_some()
        || screen.doing.is_some()
        || screen.device.is_some()
        || screen.shop.is_some()
        || screen.exercise.make.is_some()
        || screen.log_shown
        || screen.keys_shown;
    let typing = ctx.text_edit_focused();
    let popup = Popup::is_any_open(ctx);
    let pressed = |modifiers, key| ctx.input_mut(|i| i.consume_shortcut(&KeyboardShortcut::new(modifiers, key)));
    if !popup && (modal || !typing) && ctx.input(|i| i.key_pressed(Key::Escape)) {
        out.push(Command::BackOut);
    }
    let dialog = screen.import.is_some()
        || screen.shelf.is_some()
        || screen.readings.paste.is_some()
        || screen.doing.is_some()
        || screen.device.is_some()
        || screen.shop.is_some()
        || screen.exercise.make.is_some()
        || screen.log_shown;
    if dialog || screen.palette.is_some() || screen.path.is_some() || screen.fault.is_some() || screen.keys_shown {
        return;
    }
    if pressed(Modifiers::COMMAND, Key::K) {
        out.push(Command::Palette(true));
    }
    if pressed(Modifiers::COMMAND, Key::O) {
        out.push(Command::Pick(Pick::Case));
    }
    if modal {
        return;
    }
    // The longer combination goes first: Ctrl+Z would take Ctrl+Shift+Z along.
    if !typing {
        if pressed(CTRL_SHIFT, Key::Z) || pressed(Modifiers::COMMAND, Key::Y) {
            out.push(Command::Redo);
        }
        if pressed(Modifiers::COMMAND, Key::Z) {
            out.push(Command::Undo);
        }
    }
    for (key, command) in [(Key::N, Command::NewCase(Box::default())), (Key::S, Command::Save), (Key::Q, Command::Quit)]
    {
        if pressed(Modifiers::COMMAND, key) {
            out.push(command);
        }
    }
    if pressed(Modifiers::NONE, Key::F1) {
        out.push(Command::Keys(true));
    }
    if pressed(Modifiers::NONE, Key::F5) {
        out.push(Command::Handout(HandoutCommand::Present));
    }
    if typing || popup {
        return;
    }
    if screen.lining.is_some() {
        lining::keys::read(ctx, screen, out);
        return;
    }
    if screen.exercise.here {
        exercise::read_keys(ctx, screen, out);
        return;
    }
    if screen.stage == Stage::Handout && screen.drawing.is_none() && screen.desk.is_none() {
        handout::keys::hold_arrows(ctx, &screen.handout);
        if pressed(Modifiers::COMMAND, Key::D) {
            out.push(Command::Handout(HandoutCommand::DuplicateMark));
        }
    }
    plain(ctx, screen, out);
}

fn plain(ctx: &Context, screen: &Screen, out: &mut Vec<Command>) {
    let drawing = screen.drawing.is_some();
    let on_handout = screen.stage == Stage::Handout && !drawing && screen.desk.is_none();
    let arrows = [Key::ArrowLeft, Key::ArrowRight, Key::ArrowUp, Key::ArrowDown];
    if !on_handout && ctx.input(|i| arrows.iter().any(|&k| i.key_pressed(k))) {
        // Arrows step time here; they must not move the keyboard focus as well.
        ctx.memory_mut(|m| m.move_focus(FocusDirection::None));
    }
    let events = ctx.input(|i| i.events.clone());
    // Enter and space press the button that has focus; the canvas takes Enter only when nothing else does.
    let focused = ctx.memory(|m| m.focused().is_some());
    for event in events {
        if drawing && let Some(draw) = drawing::keys::clipboard(&event) {
            if draw == drawing::Draw::Copy {
                // Desktops send a paste only when their clipboard holds text.
                ctx.copy_text("Joulemark parts".to_owned());
            }
            out.push(Command::Draw(draw));
            continue;
        }
        let egui::Event::Key { key, pressed: true, modifiers, .. } = event else {
            continue;
        };
        if modifiers.ctrl || modifiers.alt || modifiers.command {
            continue;
        }
        if drawing {
            let taken = focused && key == Key::Enter;
            if let Some(draw) = drawing::keys::plain(key, modifiers).filter(|_| !taken) {
                out.push(Command::Draw(draw));
                continue;
            }
            if let Some(stage) = (0..Stage::ALL.len()).find(|&i| stages::key(i) == Some(key)) {
                out.push(Command::SetStage(Stage::ALL[stage]));
            }
            continue;
        }
        if on_handout {
            let free = !focused || screen.handout.on_picture;
            if let Some(command) = handout::keys::plain(key, modifiers, &screen.handout, free) {
                out.push(Command::Handout(command));
                continue;
            }
            if matches!(key, Key::ArrowLeft | Key::ArrowRight | Key::Home | Key::End) {
                continue;
            }
        }
        match key {
            Key::H => out.push(Command::Handout(HandoutCommand::AddThisView)),
            Key::D => out.push(Command::Draw(drawing::Draw::Open)),
            Key::M => out.push(Command::Measure),
            Key::C => {
                let part = screen.selection.part.clone().unwrap_or_default();
                out.push(Command::AskDone(Doing::Lifted, part));
            }
            _ => {}
        }
        if matches!(key, Key::H | Key::D | Key::M | Key::C) {
            continue;
        }
        let by = if modifiers.shift { 10 } else { 1 };
        let stage = (0..Stage::ALL.len()).find(|&i| stages::key(i) == Some(key));
        out.push(match key {
            _ if stage.is_some() => Command::SetStage(Stage::ALL[stage.unwrap_or_default()]),
            Key::F => Command::Fit,
            Key::L => Command::Lining(LiningCommand::Open),
            Key::ArrowLeft => Command::StepFrame(-by),
            Key::ArrowRight => Command::StepFrame(by),
            Key::Home => Command::StepFrame(i64::MIN),
            Key::End => Command::StepFrame(i64::MAX),
            Key::Plus | Key::Equals => Command::Zoom(1.25),
            Key::Minus => Command::Zoom(0.8),
            _ => continue,
        });
    }
}
