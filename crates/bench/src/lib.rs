//! The desktop app and the command line around `joulemark-frames` and `joulemark-locate`. Nothing is computed here.

pub mod answer_words;
pub mod bench_card;
pub mod board_files;
pub mod case;
pub mod cli;
pub mod exercise;
pub mod handout;
pub mod layer;
pub mod lesson;
pub mod library;
pub mod numbers;
pub mod photo;
pub mod picture;
pub mod report;
pub mod shelf;
pub mod theme;
pub mod window;
