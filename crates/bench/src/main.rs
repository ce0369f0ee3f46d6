//! `joulemark`: the window and the command line.

fn main() -> std::process::ExitCode {
    joulemark::cli::main()
}
