//! `dekchi cool`: will it be cold in time, and if not, what would.

use clap::Args as ClapArgs;
use serde_json::json;

use crate::batch::chill::{self, Into, Outcome, Portion};
use crate::batch::near;
use crate::batch::rules::{DEFER, Rules};
use crate::show::clock::length;

use super::failure::Failure;
use super::output;

/// Foretell whether gravy put somewhere cold is cold in the time that the rule gives
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi cool --depth 5cm --into ice-water
  dekchi cool --depth 2.5cm --into chiller --from 85 --rules fda
  dekchi cool --depth 16cm --across 40cm --stirred --into ice-water")]
pub struct Args {
    /// How deep the food stands: 5cm, 50mm
    #[arg(long, value_parser = metres, allow_hyphen_values = true)]
    depth: f64,
    /// How wide a round pot is; without it a wide tray
    #[arg(long, value_parser = metres, allow_hyphen_values = true)]
    across: Option<f64>,
    /// Where it is put: room, fridge, chiller, cold-water or ice-water
    #[arg(long, value_parser = into)]
    into: Into,
    /// It is stirred all the while
    #[arg(long)]
    stirred: bool,
    /// How hot it is when it is put there, °C
    #[arg(long, default_value_t = 95.0, value_parser = celsius, allow_hyphen_values = true)]
    from: f64,
    /// Whose rules
    #[arg(long, default_value = "england", value_parser = rules)]
    rules: Rules,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

fn metres(text: &str) -> Result<f64, String> {
    let text = text.trim();
    let parsed =
        |unit: &str, m: f64| Some(text.strip_suffix(unit)?.trim().parse::<f64>().ok()? * m);
    let found = parsed("mm", 0.001).or_else(|| parsed("cm", 0.01)).or_else(|| parsed("m", 1.0));
    found
        .filter(|m| (0.005..=1.0).contains(m))
        .ok_or_else(|| "say 5mm to 100cm, such as 5cm".into())
}

fn celsius(text: &str) -> Result<f64, String> {
    let c = text.trim_end_matches("°C").trim_end_matches('C').trim().parse::<f64>().ok();
    c.filter(|c| (10.0..=105.0).contains(c)).ok_or_else(|| "say 10 to 105, in °C".into())
}

fn into(name: &str) -> Result<Into, String> {
    let names = Into::ALL.map(|into| into.name);
    Into::by_name(name)
        .ok_or_else(|| format!("{} allowed: {}", near::did_you_mean(name, names), names.join(", ")))
}

fn rules(name: &str) -> Result<Rules, String> {
    Rules::by_name(name).ok_or_else(|| format!("allowed: {}", Rules::names()))
}

/// Says how each stretch of the rule goes and what would be faster.
pub fn run(args: &Args) -> Result<(), Failure> {
    let portion = Portion {
        depth_m: args.depth,
        across_m: args.across,
        stirred: args.stirred,
        from_c: args.from,
    };
    let outcomes = chill::outcomes(&portion, &args.into, &args.rules)
        .ok_or_else(|| Failure::usage("that is outside what the handbook covers"))?;
    let deepest_m = chill::deepest_m(&portion, &args.into, &args.rules);
    output::print(|out| match args.json {
        true => writeln!(out, "{}", as_json(args, &outcomes, deepest_m)),
        false => write!(out, "{}", as_text(args, &portion, &outcomes, deepest_m)),
    })
}

fn as_text(args: &Args, portion: &Portion, outcomes: &[Outcome], deepest_m: Option<f64>) -> String {
    let how = if args.stirred { "stirred" } else { "left alone" };
    let across =
        args.across.map(|m| format!(" and {:.0} cm across", 100.0 * m)).unwrap_or_default();
    let mut text = format!(
        "{:.1} cm deep{across}, {how}, from {:.0} °C into {}.\n",
        100.0 * args.depth,
        args.from,
        args.into.words
    );
    for outcome in outcomes {
        text += &format!("  {}: {}\n", outcome.stretch, verdict(outcome));
    }
    text += &began_before(args.from, outcomes);
    if !outcomes.iter().all(Outcome::in_time) {
        text += &what_would(args, portion, deepest_m);
    }
    text + &format!(
        "The rule is {}: {}. {DEFER}\n\
         An estimate: a clean thermometer in the middle goes before it.\n",
        args.rules.cool.standing.words(),
        args.rules.cool.source
    )
}

/// The rule's time runs from its upper temperature, wherever the food stood then.
fn began_before(from_c: f64, outcomes: &[Outcome]) -> String {
    let upper_c = outcomes.first().map_or(from_c, |outcome| outcome.stretch.from_c);
    if from_c >= upper_c {
        return String::new();
    }
    format!(
        "The time began when it fell below {upper_c:.0} °C: what went by until {from_c:.0} °C comes on \
         top.\n"
    )
}

fn verdict(outcome: &Outcome) -> String {
    let Some(takes_s) = outcome.takes_s else { return "never gets so cold there".to_owned() };
    let spare_s = outcome.stretch.within_s - takes_s;
    let takes = format!("takes about {}", length(takes_s));
    match spare_s >= 0.0 {
        true => format!("{takes}, {} to spare", length(spare_s)),
        false => format!("{takes}, {} too slow", length(-spare_s)),
    }
}

fn what_would(args: &Args, portion: &Portion, deepest_m: Option<f64>) -> String {
    let mut text = "Not in time. What would be:\n".to_owned();
    if let Some(deepest_m) = deepest_m {
        text += &format!("  not deeper than {:.1} cm there\n", 100.0 * deepest_m);
    }
    let ice = Into::by_name("ice-water");
    let stirred = Portion { stirred: true, ..*portion };
    let meets = |into: &Into| {
        chill::outcomes(&stirred, into, &args.rules)
            .is_some_and(|all| all.iter().all(Outcome::in_time))
    };
    match ice {
        Some(ice) if meets(&ice) => text += "  as deep as it is, stirred in iced water\n",
        Some(ice) => {
            let depth = chill::deepest_m(&stirred, &ice, &args.rules);
            let depth = depth
                .map(|m| format!("  stirred in iced water, not deeper than {:.1} cm\n", 100.0 * m));
            text += &depth.unwrap_or_default();
        }
        None => {}
    }
    text
}

fn as_json(args: &Args, outcomes: &[Outcome], deepest_m: Option<f64>) -> String {
    let stretch = |outcome: &Outcome| {
        json!({
            "from_c": outcome.stretch.from_c,
            "to_c": outcome.stretch.to_c,
            "within_s": outcome.stretch.within_s,
            "takes_s": outcome.takes_s.map(f64::round),
            "in_time": outcome.in_time(),
        })
    };
    json!({
        "kind": "cooling",
        "depth_m": args.depth,
        "across_m": args.across,
        "stirred": args.stirred,
        "into": args.into.name,
        "around_c": args.into.around_c,
        "from_c": args.from,
        "rules": args.rules.name,
        "stretches": outcomes.iter().map(stretch).collect::<Vec<_>>(),
        "deepest_m": deepest_m.map(|m| (m * 1000.0).floor() / 1000.0),
    })
    .to_string()
}
