//! Keys of the student's desk. Arrows move the cross while the map or the drawing has focus, and step time otherwise.

use egui::{Context, FocusDirection, Key};

use super::{
    super::{command::Command, screen::Screen},
    ExerciseCommand, Tab,
};

/// What the arrow keys move the cross by, in millimetres; ten times that with Shift.
const STEP_MM: f64 = 0.5;

/// Keys and what they do, for the list.
pub const KEYS: [(&str, &str); 8] = [
    ("1 to 4", "task, readings, drawing, recording"),
    ("Tab", "walk through everything; Enter takes what has focus"),
    ("Arrows on map or drawing", "move the cross by half a millimetre; by five with Shift"),
    ("Left, right elsewhere", "one frame back, one on; ten with Shift"),
    ("F, + and -", "fit the picture, zoom in and out"),
    ("Ctrl+K", "find a command"),
    ("Ctrl+Z, Ctrl+Shift+Z", "undo, redo what was answered"),
    ("Esc", "back out: close, cancel, or select nothing"),
];

/// Turns plain keys into commands.
pub fn read(ctx: &Context, screen: &Screen, out: &mut Vec<Command>) {
    let arrows = [Key::ArrowLeft, Key::ArrowRight, Key::ArrowUp, Key::ArrowDown];
    let on_canvas = screen.exercise.on_canvas;
    let pressed: Vec<(Key, bool)> = ctx.input(|i| {
        let key = |e: &egui::Event| match e {
            egui::Event::Key { key, pressed: true, modifiers, .. }
                if !(modifiers.ctrl || modifiers.alt || modifiers.command) =>
            {
                Some((*key, modifiers.shift))
            }
            _ => None,
        };
        i.events.iter().filter_map(key).collect()
    });
    let steps_time = screen.exercise.tab == Tab::Recording;
    for (key, shift) in pressed {
        if arrows.contains(&key) && (on_canvas || steps_time) {
            // They must not move the keyboard focus as well.
            ctx.memory_mut(|m| m.move_focus(FocusDirection::None));
        }
        let by_mm = if shift { 10.0 * STEP_MM } else { STEP_MM };
        let by_frames = if shift { 10 } else { 1 };
        let step = |x: f64, y: f64| Command::Exercise(ExerciseCommand::Step([x * by_mm, y * by_mm]));
        let tab = Tab::ALL.into_iter().find(|(_, _, k)| *k == key).map(|(tab, ..)| tab);
        out.push(match key {
            _ if tab.is_some() => Command::Exercise(ExerciseCommand::Tab(tab.unwrap_or_default())),
            Key::ArrowLeft if on_canvas => step(-1.0, 0.0),
            Key::ArrowRight if on_canvas => step(1.0, 0.0),
            Key::ArrowUp if on_canvas => step(0.0, -1.0),
            Key::ArrowDown if on_canvas => step(0.0, 1.0),
            Key::ArrowLeft if steps_time => Command::StepFrame(-by_frames),
            Key::ArrowRight if steps_time => Command::StepFrame(by_frames),
            Key::Home if steps_time => Command::StepFrame(i64::MIN),
            Key::End if steps_time => Command::StepFrame(i64::MAX),
            Key::F => Command::Fit,
            Key::Plus | Key::Equals => Command::Zoom(1.25),
            Key::Minus => Command::Zoom(0.8),
            _ => continue,
        });
    }
}
