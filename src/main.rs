//! Chooses between the window and a command; the one place that asks the environment.

use std::env;
use std::io::{self, BufWriter, IsTerminal, Write as _};
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;

use wirewitness::catalogue::Catalogue;
use wirewitness::cli::{Asked, Input, Streams, run};

fn main() -> ExitCode {
    // https://no-color.org: any value that is not empty.
    let wanted = env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
        && env::var_os("TERM").is_none_or(|terminal| terminal != "dumb");
    let (out, err) = (io::stdout(), io::stderr());
    let (out_colours, err_colours) = (wanted && out.is_terminal(), wanted && err.is_terminal());
    let asked = {
        let (mut out, mut err) = (BufWriter::new(out.lock()), err.lock());
        let typed = io::stdin();
        // Asked for only where somebody sees the question too.
        let asks = typed.is_terminal() && io::stdout().is_terminal();
        let mut typed = typed.lock();
        let input = Input { lines: &mut typed, asks };
        run(env::args_os(), Streams { input, out: &mut out, err: &mut err, out_colours, err_colours })
    };
    match asked {
        Asked::Exit(code) => ExitCode::from(code),
        Asked::Window { file, catalogue } => open_window(file.as_deref(), catalogue),
    }
}

/// Says why there is no window, and what there is instead.
fn no_window(why: &str) -> ExitCode {
    // Not eprintln!, which panics when standard error is closed; nobody is left to tell then.
    let _ = writeln!(
        io::stderr(),
        "error: {why}; the commands work without a window: try 'wirewitness check FILE' or 'wirewitness --help'"
    );
    ExitCode::from(2)
}

#[cfg(feature = "window")]
fn open_window(file: Option<&Path>, catalogue: Arc<Catalogue>) -> ExitCode {
    match wirewitness::app::run(file, catalogue) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => no_window(&error.to_string()),
    }
}

#[cfg(not(feature = "window"))]
fn open_window(_file: Option<&Path>, _catalogue: Arc<Catalogue>) -> ExitCode {
    no_window("this build has no window")
}
