//! Chooses between the window and a command.

fn main() {}
