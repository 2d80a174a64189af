//! What pages about the program are made of: completions and the manual.

use std::path::PathBuf;

use clap::Args as ClapArgs;

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright completions bash > ~/.local/share/bash-completion/completions/ringwright\nringwright completions fish > ~/.config/fish/completions/ringwright.fish"
)]
pub(crate) struct CompletionsArgs {
    /// The shell
    #[arg(value_name = "SHELL", value_enum)]
    pub(crate) shell: clap_complete::Shell,
}

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright man --out ~/.local/share/man/man1\nringwright man > ringwright.1"
)]
pub(crate) struct ManArgs {
    /// Folder for the pages of the program and of every command; without it the program's page goes to standard output
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}
