//! A process list is public: no command takes a secret on its line.

use std::process::Command;

fn help(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_dekchi")).args(arguments).output().unwrap();
    assert!(output.status.success(), "{arguments:?}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn no_command_takes_a_secret_on_its_line() {
    let all = help(&["--help"]);
    let listed = all.lines().skip_while(|line| !line.starts_with("Commands:")).skip(1);
    let commands: Vec<&str> = listed
        .take_while(|line| line.starts_with("  "))
        .filter_map(|l| l.split_whitespace().next())
        .collect();
    assert!(commands.len() > 10, "{commands:?}");
    for command in commands.iter().filter(|command| **command != "help") {
        let text = help(&[command, "--help"]);
        let options = text.split_whitespace().filter(|word| word.starts_with("--"));
        for option in options {
            let secret = ["pass", "secret", "token", "login", "key"];
            assert!(!secret.iter().any(|word| option.contains(word)), "{command} {option}");
        }
    }
}
