//! A recipe as a batch file that `dekchi` reads again.
//!
//! Amounts are written in kg to the gram (or tenth of a gram below 20 g), so that a scaled batch is
//! what was weighed out.

use std::fmt::Write;

use crate::batch::allergen::Allergen;
use crate::batch::recipe::{Load, Recipe, Stage, Until};
use crate::batch::wanted::{Seen, Wanted};
use crate::show::escape::printable;

/// The batch file.
#[must_use]
pub fn toml(recipe: &Recipe) -> String {
    let mut text = String::new();
    let mut line = |args: std::fmt::Arguments<'_>| {
        let _ = text.write_fmt(args);
        text.push('\n');
    };
    line(format_args!("name = {}", quoted(&recipe.name)));
    line(format_args!("pot = {}", quoted(&recipe.pot)));
    if let Some(litres) = recipe.portion_l {
        line(format_args!("portion_ml = {}", round(litres * 1000.0, 1)));
    }
    if let Some(allergens) = &recipe.allergens {
        line(format_args!("allergens = [{}]", names(allergens)));
    }
    line(format_args!("\n[start]\nlid = \"{}\"", on(recipe.lid_on)));
    line(format_args!("{}", load("contents_kg", &recipe.start)));
    for stage in &recipe.stages {
        line(format_args!("\n[[stage]]\n{}", stage_lines(stage)));
    }
    for later in &recipe.later {
        line(format_args!("\n[[addition]]\nname = {}", quoted(&later.name)));
        if let Some(stage) = later.stage.and_then(|stage| recipe.stages.get(stage)) {
            line(format_args!("stage = {}\nwhen = \"{}\"", quoted(&stage.name), when(later.at)));
        }
        line(format_args!("{}", load("kg", &later.load)));
    }
    if let Some(wanted) = &recipe.wanted {
        line(format_args!("\n[target]\n{}", target(wanted)));
    }
    text
}

fn stage_lines(stage: &Stage) -> String {
    let until = match stage.until {
        Until::Minutes(minutes) => format!("minutes = {minutes}"),
        Until::Boil => "until = \"boil\"".to_owned(),
        Until::Target => "until = \"target\"".to_owned(),
    };
    let flame = match stage.flame {
        f if f >= 1.0 => "full",
        f if f >= 0.5 => "half",
        f if f > 0.0 => "low",
        _ => "off",
    };
    format!(
        "name = {}\n{until}\nlid = \"{}\"\nflame = \"{flame}\"\nblend = {}",
        quoted(&stage.name),
        on(stage.lid_on),
        stage.blends
    )
}

fn load(kg_key: &str, load: &Load) -> String {
    match load {
        Load::Measured(items) => {
            let mut text = "ingredients = [\n".to_owned();
            for item in items {
                let decimals = if item.kg < 0.02 { 4 } else { 3 };
                let line = format!("{} kg {}", round(item.kg, decimals), item.name);
                let _ = writeln!(text, "  {},", quoted(&line));
            }
            text + "]"
        }
        Load::Stated { kg, composition: of } => format!(
            "{kg_key} = {}\ncomposition = {{ water = {}, solids = {}, fat = {}, salt = {} }}",
            round(*kg, 4),
            round(of.water(), 6),
            round(of.solids(), 6),
            round(of.fat(), 6),
            round(of.salt(), 6)
        ),
    }
}

fn target(wanted: &Wanted) -> String {
    let measured = |seen: &Option<Seen>| match seen {
        Some(Seen { cm, total_solids }) => {
            format!("\nmeasured_cm = {cm}\nmeasured_total_solids = {total_solids}")
        }
        None => String::new(),
    };
    match wanted {
        Wanted::TotalSolids(share) => format!("total_solids = {}", round(*share, 5)),
        Wanted::ContentsKg(kg) => format!("contents_kg = {}", round(*kg, 3)),
        Wanted::Litres(litres) => format!("litres = {}", round(*litres, 3)),
        Wanted::DipCm(cm) => format!("dip_cm = {}", round(*cm, 2)),
        Wanted::ReducedBy(fraction) => format!("reduced_by = {}", round(*fraction, 5)),
        Wanted::Brix(brix) => format!("brix = {}", round(*brix, 3)),
        Wanted::Bostwick { cm, seen } => format!("bostwick_cm = {cm}{}", measured(seen)),
        Wanted::LineSpread { cm, seen } => format!("line_spread_cm = {cm}{}", measured(seen)),
        Wanted::LikeBatch { number, total_solids: Some(share) } => {
            format!("like_batch = {number}\nmeasured_total_solids = {}", round(*share, 5))
        }
        Wanted::LikeBatch { number, total_solids: None } => format!("like_batch = {number}"),
    }
}

const fn on(is_on: bool) -> &'static str {
    if is_on { "on" } else { "off" }
}

fn when(at: f64) -> &'static str {
    match at {
        at if at >= 1.0 => "end",
        at if at > 0.0 => "halfway",
        _ => "start",
    }
}

fn names(allergens: &[Allergen]) -> String {
    allergens.iter().map(|a| quoted(a.words())).collect::<Vec<_>>().join(", ")
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", printable(text).replace('\\', "\\\\").replace('"', "\\\""))
}

fn round(value: f64, decimals: i32) -> f64 {
    let scale = 10.0_f64.powi(decimals);
    (value * scale).round() / scale
}
