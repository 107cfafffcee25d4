//! The command line, one file a command.
//!
//! Data goes to standard output and talk to standard error. Exit codes: 0 done, 1 failed, 2 a bad
//! argument or recording, 69 something needed is not there, 74 input or output failed, 78 a bad
//! configuration file. A file that is named and cannot be read is a bad argument of every command.

pub mod batches;
pub mod budget;
pub mod calibrate;
pub mod check;
pub mod compare;
pub mod cool;
pub mod curve;
#[cfg(feature = "demo-broker")]
pub mod demo;
pub mod environment;
pub mod failure;
pub mod label;
pub mod log;
pub mod output;
pub mod pair;
pub mod plan;
pub mod practise;
pub mod printed;
#[cfg(feature = "demo-broker")]
pub mod progress;
pub mod replay;
pub mod run;
pub mod say;
pub mod score;
pub mod sensors;
pub mod sheet;
pub mod store;
pub mod telling;
pub mod test_alerts;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Watches a pot of base gravy and says what it needs.
#[derive(Debug, Parser)]
#[command(name = "dekchi", version, about)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

/// Each command's arguments and `run` live in its own file.
#[derive(Debug, Subcommand)]
enum Command {
    Batches(batches::Args),
    Budget(budget::Args),
    Calibrate(calibrate::Args),
    Check(check::Args),
    Compare(compare::Args),
    Cool(cool::Args),
    Curve(curve::Args),
    Label(label::Args),
    Pair(pair::Args),
    Plan(plan::Args),
    #[cfg(feature = "demo-broker")]
    Demo(demo::Args),
    Practise(practise::Args),
    Replay(replay::Args),
    Run(run::Args),
    Say(say::Args),
    Score(score::Args),
    Sheet(sheet::Args),
    Sensors(sensors::Args),
    TestAlerts(test_alerts::Args),
}

/// Reads the command line and does what it says.
#[must_use]
pub fn main() -> ExitCode {
    let done = match Cli::parse().command {
        Command::Batches(args) => batches::run(&args),
        Command::Budget(args) => budget::run(&args),
        Command::Calibrate(args) => calibrate::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Compare(args) => compare::run(&args),
        Command::Cool(args) => cool::run(&args),
        Command::Curve(args) => curve::run(&args),
        Command::Label(args) => label::run(&args),
        Command::Pair(args) => pair::run(&args),
        Command::Plan(args) => plan::run(&args),
        #[cfg(feature = "demo-broker")]
        Command::Demo(args) => demo::run(&args),
        Command::Practise(args) => practise::run(&args),
        Command::Replay(args) => replay::run(&args),
        Command::Run(args) => run::run(&args),
        Command::Say(args) => say::run(&args),
        Command::Score(args) => score::run(&args),
        Command::Sheet(args) => sheet::run(&args),
        Command::Sensors(args) => sensors::run(&args),
        Command::TestAlerts(args) => test_alerts::run(&args),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            output::say(&failure.sentence);
            ExitCode::from(failure.code)
        }
    }
}
