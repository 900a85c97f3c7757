fn main() -> std::process::ExitCode {
    bellwire::cli::main()
}
