//! A value that both databases take and give.

/// One cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// No picture.
    Null,
    /// Text without NUL, which PostgreSQL does not store.
    Text(String),
    /// A picture.
    Bytes(Vec<u8>),
}

impl Value {
    /// Text; NULs are left out.
    pub fn text(text: &str) -> Self {
        Self::Text(text.replace('\0', ""))
    }

    /// The text, or nothing.
    pub fn as_text(&self) -> &str {
        match self {
            Self::Text(text) => text,
            _ => "",
        }
    }
}
