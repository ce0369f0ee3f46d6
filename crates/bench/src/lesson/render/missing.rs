//! What a step shows that is not there.

/// One sentence about it, with what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missing(pub String);

impl std::fmt::Display for Missing {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Missing {}
