//! The regions around the map. Each is a function from state to commands.

pub mod before_filming;
pub mod card;
pub mod case_log;
pub mod cautions;
pub mod device;
pub mod dialogs;
pub mod doing;
pub mod empty;
pub mod footer;
pub mod form;
pub mod import;
pub mod palette;
pub mod part;
pub mod progress;
pub mod shelf;
pub mod shop;
pub mod stages;
pub mod strip;
pub mod suspects;
pub mod tools;
pub mod top_bar;
pub mod watch_marks;
