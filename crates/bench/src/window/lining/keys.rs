//! The keyboard while lining up.

use egui::{Context, FocusDirection, Key};

use super::{LiningCommand, Look, Side};
use crate::window::{command::Command, screen::Screen};

/// Keys and what they do, for the list of keys.
pub const KEYS: [(&str, &str); 7] = [
    ("L", "line the picture up with the drawing"),
    ("Arrows, Enter", "lining up: move the crosshair, set the point (Shift: ten steps)"),
    ("N, Shift+N", "lining up: next corner of the drawing, the one before"),
    ("P, D", "lining up: go on in the picture, in the drawing"),
    ("R, U", "lining up: refine on the board's edges, use the pairs"),
    ("I, W, O, B", "lining up: lines, wipe, opacity, blink; , and . move them"),
    ("Backspace", "lining up: take the last point back"),
];

/// Turns keys into commands. Only called when no text is typed and no dialog is open.
pub fn read(ctx: &Context, screen: &Screen, out: &mut Vec<Command>) {
    let arrows = [Key::ArrowLeft, Key::ArrowRight, Key::ArrowUp, Key::ArrowDown];
    if ctx.input(|i| arrows.iter().any(|&k| i.key_pressed(k))) {
        ctx.memory_mut(|m| m.move_focus(FocusDirection::None));
    }
    // A button that has focus takes Enter for itself.
    let free = ctx.memory(|m| m.focused()).is_none();
    let crosshair = screen.lining.as_ref().is_some_and(|l| l.cursor[usize::from(l.turn == Side::Drawing)].is_some());
    for event in ctx.input(|i| i.events.clone()) {
        let egui::Event::Key { key, pressed: true, modifiers, .. } = event else { continue };
        if modifiers.ctrl || modifiers.alt || modifiers.command {
            continue;
        }
        let many = if modifiers.shift { 10.0 } else { 1.0 };
        let look = Look::ALL.into_iter().find(|(_, _, k)| *k == key);
        out.push(Command::Lining(match key {
            Key::ArrowLeft => LiningCommand::Step([-many, 0.0]),
            Key::ArrowRight => LiningCommand::Step([many, 0.0]),
            Key::ArrowUp => LiningCommand::Step([0.0, -many]),
            Key::ArrowDown => LiningCommand::Step([0.0, many]),
            Key::Enter if free && crosshair => LiningCommand::Set,
            Key::N => LiningCommand::Corner(if modifiers.shift { -1 } else { 1 }),
            Key::P => LiningCommand::Turn(Side::Picture),
            Key::D => LiningCommand::Turn(Side::Drawing),
            Key::R => LiningCommand::Refine,
            Key::U => LiningCommand::Done,
            Key::Backspace | Key::Delete => LiningCommand::RemoveLast,
            Key::Comma => LiningCommand::Shift(-0.05),
            Key::Period => LiningCommand::Shift(0.05),
            Key::F => {
                out.push(Command::Fit);
                continue;
            }
            Key::Plus | Key::Equals => {
                out.push(Command::Zoom(1.25));
                continue;
            }
            Key::Minus => {
                out.push(Command::Zoom(0.8));
                continue;
            }
            _ => match look {
                Some((look, ..)) => LiningCommand::Look(look),
                None => continue,
            },
        }));
    }
}
