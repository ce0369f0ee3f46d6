//! The window, driven by accessible labels; and pictures of its screens for the eye. One binary, since each links the
//! whole of egui.

mod bench;
mod cases;
mod common;
mod compare;
mod desk;
mod drawing;
mod exercise;
mod exercise_pictures;
mod files;
mod flows;
mod form;
mod gallery;
mod handout;
mod lining;
mod pictures;
mod speed;
mod takes;
