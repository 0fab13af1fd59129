//! `brunt completions`: what a shell needs to finish the words of a command, made from the options
//! themselves.

use clap::Command;
use clap_complete::{Shell, generate};

/// Print the completions for a shell.
///
/// brunt completions bash > ~/.local/share/bash-completion/completions/brunt
#[derive(Debug, clap::Args)]
pub(super) struct CompletionsArgs {
    /// The shell: bash, elvish, fish, powershell or zsh.
    #[arg(hide_possible_values = true)]
    shell: Shell,
}

impl CompletionsArgs {
    /// What the shell reads, for the words of this command.
    pub(super) fn text(&self, mut command: Command) -> String {
        let mut text = Vec::new();
        generate(self.shell, &mut command, "brunt", &mut text);
        String::from_utf8_lossy(&text).into_owned()
    }
}

#[cfg(test)]
mod tests {
    use clap::{CommandFactory, ValueEnum};

    use super::super::Cli;
    use super::*;

    fn of(shell: Shell) -> String {
        CompletionsArgs { shell }.text(Cli::command())
    }

    #[test]
    fn every_shell_knows_every_option_of_check() {
        let command = Cli::command();
        let check = command.find_subcommand("check").expect("check");
        for shell in Shell::value_variants() {
            let text = of(*shell);
            for long in check.get_arguments().filter_map(|argument| argument.get_long()) {
                assert!(text.contains(long), "--{long} for {shell}");
            }
        }
    }

    /// The shell itself reads what it is given.
    #[cfg(target_os = "linux")]
    #[test]
    fn bash_takes_its_own() {
        use std::io::Write;
        use std::process::{Command, Stdio};
        let mut bash = Command::new("bash")
            .args(["-c", "eval \"$(cat)\" && complete -p brunt"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("bash runs");
        let mut input = bash.stdin.take().expect("an input");
        input.write_all(of(Shell::Bash).as_bytes()).expect("written");
        drop(input);
        let output = bash.wait_with_output().expect("bash ends");
        assert!(output.status.success());
        assert!(String::from_utf8_lossy(&output.stdout).contains("brunt"));
    }
}
