//! Gerber layers (Ucamco, *Gerber Layer Format Specification*, 2024.05): the profile becomes the outline, an X3
//! component layer parts. The crate `gerber_parser` reads the commands, `plot` walks through them.

mod commands;
mod components;
mod plot;

use std::{
    io::BufReader,
    panic::{AssertUnwindSafe, catch_unwind},
    path::Path,
};

use gerber_parser::{ContentError, GerberDoc, gerber_types::FileFunction};
use plot::Plot;

use super::{
    Design, MOST_ITEMS, contours,
    text::{fault, text},
};
use crate::case::BadInput;

/// Reads a profile or a component layer.
///
/// # Errors
/// A command that is not understood, with its line; another kind of layer.
pub fn read(file: &Path, bytes: &[u8]) -> anyhow::Result<Design> {
    let text = text(file, bytes)?;
    let commands =
        commands::split(&text).map_err(|(line, problem)| fault(file, line, problem, "export the layer again"))?;
    if commands.len() > 40 * MOST_ITEMS {
        return Err(BadInput::at(
            file,
            "",
            "more commands than a profile has",
            "give the profile or the component layer",
        ));
    }
    let one_a_line: String = commands.iter().flat_map(|(_, c)| [c.as_str(), "\n"]).collect();
    // The parser indexes into attributes without asking how many fields they have, and panics on damaged ones. Nothing
    // it touched is used afterwards.
    let parse = || gerber_parser::parse(BufReader::new(one_a_line.as_bytes())).map_err(|(_, error)| error.to_string());
    let parsed = catch_unwind(AssertUnwindSafe(parse));
    let doc: GerberDoc = match parsed {
        Ok(Ok(doc)) => doc,
        Ok(Err(error)) => return Err(BadInput::at(file, "", error, "export the layer again")),
        Err(_) => return Err(BadInput::at(file, "", "an attribute is damaged", "export the layer again")),
    };
    let mut design = Design::default();
    check_commands(file, &doc, &commands, &mut design)?;
    let plot = Plot::of(file, &doc)?;
    match &plot.function {
        Some(FileFunction::Profile(_)) => {}
        Some(FileFunction::Component { .. }) => {
            components::add(&mut design, &plot);
            if design.parts.is_empty() {
                return Err(BadInput::at(
                    file,
                    "",
                    "the component layer places no part",
                    "export it again as Gerber X3",
                ));
            }
            design.notes.extend(plot.notes);
            return Ok(design);
        }
        Some(other) => {
            let name = format!("{other:?}");
            let name = name.split([' ', '(', '{']).next().unwrap_or("other").to_lowercase();
            return Err(BadInput::at(
                file,
                "",
                format!("this is a {name} layer"),
                "give the profile layer or an X3 component layer",
            ));
        }
        None => design.notes.push("the file does not state its function; it is read as the outline".into()),
    }
    let pieces = plot.shapes.into_iter().map(|s| s.line).collect();
    contours::outline(&mut design, pieces);
    if design.outline.is_none() {
        return Err(BadInput::at(file, "", "its lines enclose no area", "give the profile layer"));
    }
    design.notes.extend(plot.notes);
    Ok(design)
}

/// The first command that is damaged is an error; attributes and commands that draw nothing are noted.
fn check_commands(
    file: &Path,
    doc: &GerberDoc,
    commands: &[(usize, String)],
    design: &mut Design,
) -> anyhow::Result<()> {
    let mut skipped = 0;
    for error in doc.errors() {
        let (count, content) = error.line.as_ref().map_or((0, ""), |(n, c)| (*n, c.as_str()));
        let line = commands.get(count.saturating_sub(1)).map_or(0, |(line, _)| *line);
        let draws_nothing = content.trim_start().starts_with("%T") || content.trim_start().starts_with("G04");
        match &error.error {
            ContentError::NoEndOfFile => {
                design.notes.push("the end (M02) is missing: the file may be cut short".into());
            }
            _ if draws_nothing => skipped += 1,
            _ => return Err(fault(file, line, format!("'{content}' is not understood"), "export the layer again")),
        }
    }
    if skipped > 0 {
        design.notes.push(format!("{skipped} attributes were not understood and left out"));
    }
    Ok(())
}
