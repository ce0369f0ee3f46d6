//! Exercises: made of a case, with the answer sealed; scored; collected in a class file. Points and their reasons are in
//! docs/exercise.md, which the tests of `score` repeat number by number.

pub mod answer;
pub mod class;
pub mod make;
pub mod plain_case;
pub mod score;
pub mod seal;
pub mod task;

pub use answer::{Answer, RailLimits, StepLimits, TruePart};
pub use score::{Item, Score, score};
