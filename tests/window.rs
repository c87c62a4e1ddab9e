//! The window, used like a person would through the accessibility tree; no display is needed.
#![cfg(feature = "window")]
#![allow(clippy::unwrap_used)] // helpers of tests panic as tests do

#[path = "window/compared.rs"]
mod compared;
#[path = "window/entry.rs"]
mod entry;
#[path = "window/fits.rs"]
mod fits;
#[path = "window/foreseen.rs"]
mod foreseen;
#[path = "window/idle.rs"]
mod idle;
#[path = "window/ladder.rs"]
mod ladder;
#[path = "window/main_job.rs"]
mod main_job;
#[path = "window/machines.rs"]
mod machines;
#[path = "window/kept_apart.rs"]
mod kept_apart;
#[path = "window/mysteries.rs"]
mod mysteries;
#[path = "window/names.rs"]
mod names;
#[path = "window/on_photo.rs"]
mod on_photo;
#[cfg(feature = "sheet")]
#[path = "window/paper.rs"]
mod paper;
#[cfg(not(feature = "sheet"))]
#[path = "window/paper_left_out.rs"]
mod paper_left_out;
#[path = "window/person.rs"]
mod person;
#[path = "window/pictures.rs"]
mod pictures;
#[path = "window/practice.rs"]
mod practice;
#[path = "window/removal.rs"]
mod removal;
#[path = "traced/truth.rs"]
mod truth;
#[path = "window/visits.rs"]
mod visits;
