//! `dekchi check`: are the files right, and how are they understood?

use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;

use crate::batch::outlook::Size;
use crate::batch::plan::{Plan, Start};
use crate::batch::pot::Pot;
use crate::config::batch::{self, Batch, fit};
use crate::config::broker::Broker;
use crate::config::complaint::Complaints;
use crate::config::file::{self, File};
use crate::config::kitchen::Kitchen;

use super::failure::Failure;
use super::output;

/// Read kitchen and batch files and say what is wrong or how they are understood
///
/// Each batch is held against the kitchen file that stands before it.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi check config/kitchen.toml
  dekchi check config/kitchen.toml config/tuesday-base.toml
  dekchi check --kitchen config/kitchen.toml --batch config/tuesday-base.toml")]
pub struct Args {
    /// Kitchen and batch files, TOML
    #[arg(required_unless_present_any = ["kitchen", "batch"])]
    files: Vec<PathBuf>,
    /// A kitchen file
    #[arg(long)]
    kitchen: Vec<PathBuf>,
    /// A batch file
    #[arg(long)]
    batch: Vec<PathBuf>,
}

/// Says one line for each file that is right; all complaints come together at the end.
pub fn run(args: &Args) -> Result<(), Failure> {
    let mut complaints = Complaints(Vec::new());
    let mut understood = Vec::new();
    let mut kitchen = None;
    for path in args.kitchen.iter().chain(&args.files).chain(&args.batch) {
        match read(path, &mut kitchen) {
            Ok(sentence) => understood.push(format!("{}: {sentence}", path.display())),
            Err(Complaints(more)) => complaints.0.extend(more),
        }
    }
    output::print(|out| understood.iter().try_for_each(|line| writeln!(out, "{line}")))?;
    if complaints.0.is_empty() { Ok(()) } else { Err(complaints.into()) }
}

fn read(path: &Path, kitchen: &mut Option<Kitchen>) -> Result<String, Complaints> {
    let name = path.display().to_string();
    let text = file::text(path)?;
    let file = File::parse(&name, &text)?;
    if file.has("site") || file.has_list("pot") {
        let read = Kitchen::parse(&name, &text)?;
        return Ok(kitchen_sentence(kitchen.insert(read)));
    }
    let Some(kitchen) = kitchen else {
        file.complain(None, "", "no sound kitchen file stands before it", "a kitchen file first");
        return file.finish(None);
    };
    let Batch { recipe, plan, .. } =
        batch::read_to_cook(path, kitchen, &|_| None, (None, Size::AsWritten))?;
    let pot = kitchen.pot(&plan.pot).into_iter();
    pot.flat_map(|pot| fit::words(&recipe, kitchen, pot))
        .for_each(|words| output::say(&format!("beware: {name}: {words}")));
    Ok(batch_sentence(&plan))
}

fn kitchen_sentence(kitchen: &Kitchen) -> String {
    let name = kitchen.name.as_deref().unwrap_or("a kitchen");
    let air = match kitchen.site.pressure {
        Some(pressure) => format!(", air at {:.0} hPa", pressure.get() / 100.0),
        None => String::new(),
    };
    let pots: Vec<_> = kitchen.pots.iter().map(pot_words).collect();
    let altitude_m = kitchen.site.altitude_m;
    let broker = kitchen.broker.as_ref().map(broker_words).unwrap_or_default();
    format!("{name}, {altitude_m} m above the sea{air}; {}{broker}", pots.join("; "))
}

fn broker_words(broker: &Broker) -> String {
    let secret = if broker.tls { " over TLS" } else { "" };
    format!("; told over MQTT: {} port {}{secret}", broker.host, broker.port)
}

fn pot_words(pot: &Pot) -> String {
    let Pot { name, base_diameter_m, tare_kg, lid_kg, height_m } = pot;
    let height = height_m.map(|m| format!(" and {m} m high")).unwrap_or_default();
    format!("pot \"{name}\" {base_diameter_m} m wide{height}, tare {tare_kg} kg, lid {lid_kg} kg")
}

fn batch_sentence(plan: &Plan) -> String {
    let Start { contents_kg, lid_on, composition } = &plan.start;
    let mut sentence = format!(
        "\"{}\" in pot \"{}\" starts with {contents_kg:.3} kg at {:.1} % total solids, lid {}",
        plan.name,
        plan.pot,
        100.0 * composition.total_solids(),
        if *lid_on { "on" } else { "off" },
    );
    for addition in &plan.additions {
        sentence += &format!("; then {:.3} kg {}", addition.kg, addition.name);
    }
    sentence
        + &match plan.target {
            Some(target) => format!("; until {target}"),
            None => "; no target".to_owned(),
        }
}
