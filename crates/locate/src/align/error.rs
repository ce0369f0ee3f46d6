//! Why point pairs give no alignment.

/// Why point pairs give no alignment. Pairs are counted from 0 in the fields, from 1 in the messages.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum AlignError {
    /// Fewer than two pairs.
    #[error("{0} point pairs; at least 2 are needed")]
    TooFew(usize),
    /// Fewer pairs than the kind of mapping that was asked for needs.
    #[error("{found} point pairs; this kind of mapping needs {needed}: add pairs, or choose a simpler kind")]
    TooFewFor {
        /// Pairs given.
        found: usize,
        /// Pairs needed.
        needed: usize,
    },
    /// A coordinate is not finite.
    #[error("point pair {} holds a coordinate that is not a number; correct it", .0 + 1)]
    NotANumber(usize),
    /// Two pairs name the same point.
    #[error("point pairs {} and {} name the same point; remove one", .0 + 1, .1 + 1)]
    Repeated(usize, usize),
    /// The pairs mirror the board.
    #[error("the point pairs mirror the board; check which face is in the picture, and that x runs right and y down")]
    Mirrored,
    /// The points lie on one line where they must not.
    #[error("the points lie on one line; add a pair away from it")]
    Collinear,
    /// The mapping folds over within the picture.
    #[error("the point pairs contradict each other (the mapping folds over); check them")]
    Folds,
    /// A given matrix maps the picture onto a line or a point, or holds something that is not a number.
    #[error("the mapping matrix cannot be inverted; correct it")]
    Singular,
    /// A stored refinement is damaged, or belongs to other pairs.
    #[error("the stored refinement does not fit these point pairs; refine again")]
    Stored,
}
