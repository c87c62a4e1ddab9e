//! The numeric core against networks solved elsewhere: textbooks, exact arithmetic and 50-digit arithmetic.

#[path = "linear/given.rs"]
mod given;
#[path = "linear/handbook.rs"]
mod handbook;
#[path = "linear/laws.rs"]
mod laws;
