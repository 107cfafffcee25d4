//! `dekchi say`: the cook's words to the running daemon.

use std::io;

use clap::Args as ClapArgs;

use crate::daemon::door::{self, Question};

use super::failure::Failure;
use super::output;
use super::store::Store;

/// Say something to a pot that is watched
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi say big stirred
  dekchi say big \"bottom clean\"
  dekchi say big \"that was 1.2 kg cream\"
  dekchi say big \"added 500 ml water\"
  dekchi say big \"infusion was 1.2 kg\" --by Asha
  dekchi say big \"addition 2 was stock\"
  dekchi say big \"nothing was added\"
  dekchi say big \"take that back\"
  dekchi say big \"right now\"
  dekchi say big \"shelve stir-due 10 min\"

Also: it caught; lid on; lid off; flame off; acknowledge stir-due.")]
pub struct Args {
    /// The pot
    pot: String,
    /// What is said
    #[arg(required = true)]
    words: Vec<String>,
    /// Who says it, for the record
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    #[command(flatten)]
    store: Store,
}

/// Says it and prints the answer.
pub fn run(args: &Args) -> Result<(), Failure> {
    args.store.must_be_there()?;
    let path = args.store.door_to_speak_at();
    let (pot, by) = (Some(args.pot.clone()), args.by.clone());
    let question = Question { pot, says: args.words.join(" "), by };
    let answer = door::ask(&path, &question).map_err(|error| {
        let path = path.display();
        match error.kind() {
            io::ErrorKind::PermissionDenied => Failure::unavailable(format!(
                "{path} may not be spoken at: join the service's group, or say it as root"
            )),
            io::ErrorKind::NotFound | io::ErrorKind::ConnectionRefused => Failure::unavailable(
                format!("nobody answers at {path}: is the daemon running? (dekchi run)"),
            ),
            _ => Failure::io(format!("{path} did not answer: {error}")),
        }
    })?;
    match answer.ok {
        true => output::print(|out| writeln!(out, "{}", answer.answer)),
        false => Err(Failure::usage(answer.answer)),
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn every_saying_in_the_help_is_one_that_is_understood() {
        let larder = crate::batch::larder::Larder::bundled();
        for saying in crate::watch::words::SAYINGS.split("; ") {
            assert!(crate::watch::words::understand(saying, &larder).is_ok(), "{saying}");
        }
    }
}
