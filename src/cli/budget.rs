//! `dekchi budget`: what may be wrong by how much with a platform of given load cells.

use clap::{Args as ClapArgs, ValueEnum};

use crate::physics::budget::{BEAMS, Budget, Cells, HALF_BRIDGES, Use, budget};

use super::failure::Failure;
use super::output;

/// What may be wrong by how much with a platform of given load cells
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi budget
  dekchi budget --cells half-bridges --load-kg 60 --warming-k 20")]
pub struct Args {
    /// Which cells; both where it is left out
    #[arg(long)]
    cells: Option<Kind>,
    /// Pot, lid and contents, kg
    #[arg(long, default_value_t = Use::default().load_kg)]
    load_kg: f64,
    /// How much the cells warm, K
    #[arg(long, default_value_t = Use::default().warming_k)]
    warming_k: f64,
    /// What feeds the bridge, V
    #[arg(long, default_value_t = Use::default().excitation_v)]
    excitation_v: f64,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Kind {
    Beams,
    HalfBridges,
}

pub fn run(args: &Args) -> Result<(), Failure> {
    let used = Use {
        load_kg: positive("load-kg", args.load_kg, 1_000.0)?,
        warming_k: positive("warming-k", args.warming_k, 200.0)?,
        excitation_v: positive("excitation-v", args.excitation_v, 15.0)?,
        ..Use::default()
    };
    let cells: &[Cells] = match args.cells {
        Some(Kind::Beams) => &[BEAMS],
        Some(Kind::HalfBridges) => &[HALF_BRIDGES],
        None => &[BEAMS, HALF_BRIDGES],
    };
    let tables: Option<Vec<String>> =
        cells.iter().map(|cells| budget(cells, &used).map(|b| table(cells, &used, &b))).collect();
    let Some(tables) = tables else {
        return Err(Failure::usage("load-kg: more than these cells may carry"));
    };
    output::print(|out| write!(out, "{}", tables.join("\n")))
}

fn positive(name: &str, number: f64, most: f64) -> Result<f64, Failure> {
    let fair = number > 0.0 && number <= most;
    fair.then_some(number)
        .ok_or_else(|| Failure::usage(format!("{name}: {number} cannot be; allowed: 0 to {most}")))
}

/// As a table in Markdown, which is plain enough to be read as it is.
fn table(cells: &Cells, used: &Use, budget: &Budget) -> String {
    let mut text = format!(
        "{}; {:.0} kg on them, warmed by {:.0} K, {} V\n\n| part | g |\n|---|---:|\n",
        cells.name, used.load_kg, used.warming_k, used.excitation_v
    );
    for part in &budget.parts {
        text += &format!("| {} | {:.1} |\n", part.name, part.kg * 1_000.0);
    }
    text += &format!("| **in absolute weight** | **{:.0}** |\n", budget.absolute_kg * 1_000.0);
    text += &format!("| **moving within a batch** | **{:.0}** |\n", budget.moving_kg * 1_000.0);
    text
}
