//! RON and JSON text into structures, known by content: a file that opens with `{` is JSON, whatever its name says.
//! RON may leave out `Some(..)`.

use std::path::Path;

use ron::{Options, extensions::Extensions, ser::PrettyConfig};
use serde::{Serialize, de::DeserializeOwned};

use super::{BadInput, bad_input::read_text};

/// Reads a structure from a file.
pub fn read<T: DeserializeOwned>(file: &Path) -> anyhow::Result<T> {
    parse(file, &read_text(file)?)
}

/// Reads a structure from text; `file` is named in messages.
pub fn parse<T: DeserializeOwned>(file: &Path, text: &str) -> anyhow::Result<T> {
    if text.trim_start().starts_with('{') {
        serde_json::from_str(text).map_err(|e| {
            // serde_json ends its message with the place, which goes in front here.
            let full = e.to_string();
            let problem = full.rsplit_once(" at line ").map_or(full.as_str(), |(problem, _)| problem);
            BadInput::at(file, format!("{}:{}", e.line(), e.column()), problem, "correct it there")
        })
    } else {
        options().from_str(text).map_err(|e| {
            BadInput::at(
                file,
                format!("{}:{}", e.span.start.line, e.span.start.col),
                e.code.to_string(),
                "correct it there",
            )
        })
    }
}

/// Writes a structure as RON, one field a line.
pub fn to_ron<T: Serialize>(value: &T) -> anyhow::Result<String> {
    let mut text = options().to_string_pretty(value, PrettyConfig::new().struct_names(false).compact_arrays(true))?;
    text.push('\n');
    Ok(text)
}

fn options() -> Options {
    Options::default().with_default_extension(Extensions::IMPLICIT_SOME)
}
