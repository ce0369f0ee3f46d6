//! Keys of the presenter, those of a hand-held remote among them: it sends page up and page down.

use egui::{Context, Key};

use super::Turn;

/// Keys and what they do.
pub const KEYS: [(&str, Turn); 14] = [
    ("Space", Turn::Next),
    ("Right", Turn::Next),
    ("PageDown", Turn::Next),
    ("Enter", Turn::Next),
    ("Left", Turn::Back),
    ("PageUp", Turn::Back),
    ("Backspace", Turn::Back),
    ("Down", Turn::NextStep),
    ("Up", Turn::StepBefore),
    ("Home", Turn::First),
    ("End", Turn::Last),
    ("P", Turn::Play),
    ("B", Turn::Blank),
    ("Escape", Turn::Leave),
];

/// What the keys of this frame ask for. F5, which began it, ends it too.
pub fn asked(ctx: &Context) -> Vec<Turn> {
    let pressed = |key: Key| {
        let listed = KEYS.iter().find(|(name, _)| Key::from_name(name) == Some(key)).map(|(_, turn)| *turn);
        listed.or((key == Key::F5).then_some(Turn::Leave))
    };
    ctx.input_mut(|i| {
        let mut asked = Vec::new();
        i.events.retain(|event| match event {
            egui::Event::Key { key, pressed: true, modifiers, .. } if !modifiers.any() => match pressed(*key) {
                Some(turn) => {
                    asked.push(turn);
                    false
                }
                None => true,
            },
            _ => true,
        });
        asked
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_listed_key_is_one() {
        for (name, _) in KEYS {
            assert!(Key::from_name(name).is_some(), "{name}");
        }
    }
}
