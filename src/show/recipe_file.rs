//! A recipe as a batch file that `dekchi` reads again.
//!
//! Amounts are written in the measure that the cook wrote, scaled, where that can still be measured out:
//! kilograms below one are grams and grams above a thousand kilograms, litres likewise; spoons by the
//! dozen and pieces that are no whole number are weighed. To the gram (a tenth of one below 20 g), or to
//! four figures, so that a scaled batch is what was weighed out.

use std::fmt::Write;

use crate::batch::allergen::Allergen;
use crate::batch::measure::{Amount, Kind, Unit};
use crate::batch::recipe::{Item, Load, Recipe, Stage, Until};
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
                let line = format!("{} {}", measured(item), item.name);
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

/// More spoons than this are weighed.
const SPOONS: f64 = 16.0;

/// How much of it, in the measure that it was written in where that is a sensible one.
fn measured(item: &Item) -> String {
    let Amount { number, unit, piece } = &item.amount;
    match (unit, unit.kind()) {
        (Unit::Pound, _) => format!("{} lb", figures(*number)),
        (Unit::Ounce, _) => format!("{} oz", figures(*number)),
        (Unit::Litre | Unit::Millilitre, Kind::Volume(ml)) => match number * ml {
            ml if ml < 20.0 => format!("{} ml", figures(ml)),
            ml if ml < 999.5 => format!("{} ml", round(ml, 0)),
            ml => format!("{} l", round(ml / 1000.0, 3)),
        },
        (Unit::Tablespoon | Unit::Teaspoon, _) if *number > SPOONS => weighed(item.kg),
        (_, Kind::Volume(_)) => format!("{} {}", figures(*number), unit.symbol()),
        (_, Kind::Count) if (number - number.round()).abs() < 0.005 && *number >= 0.995 => {
            let piece = piece.as_ref().map(|piece| format!(" {piece}"));
            format!("{}{}", number.round(), piece.unwrap_or_default())
        }
        _ => weighed(item.kg),
    }
}

fn weighed(kg: f64) -> String {
    match kg {
        kg if kg < 0.02 => format!("{} g", figures(1000.0 * kg)),
        kg if kg < 0.9995 => format!("{} g", round(1000.0 * kg, 0)),
        kg => format!("{} kg", round(kg, 3)),
    }
}

/// To four figures, and no finer than a hundredth.
fn figures(value: f64) -> f64 {
    round(value, if value < 100.0 { 2 } else { 1 })
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::larder::Larder;
    use crate::batch::measure;

    fn scaled(line: &str, by: f64) -> String {
        let (mut amount, name) = measure::measured(line).unwrap();
        let ingredient = Larder::bundled().find(&name).unwrap().clone();
        amount.number *= by;
        let kg = ingredient.kg(&amount).unwrap();
        measured(&Item { name, amount, ingredient, kg })
    }

    #[test]
    fn what_a_cook_wrote_in_grams_millilitres_and_spoons_is_scaled_in_them() {
        for (line, by, written) in [
            ("200 g garlic", 2.4, "480 g"),
            ("200 g garlic", 6.0, "1.2 kg"),
            ("8 kg onions", 0.1, "800 g"),
            ("8 kg onions", 1.3846, "11.077 kg"),
            ("500 ml cream", 1.5, "750 ml"),
            ("6 l water", 1.2345, "7.407 l"),
            ("1 l rapeseed oil", 0.25, "250 ml"),
            ("3 tbsp salt", 1.5, "4.5 tbsp"),
            ("1 tsp turmeric", 0.5, "0.5 tsp"),
            ("2 cups cream", 1.25, "2.5 cup"),
            ("2 lb onions", 1.5, "3 lb"),
            ("8 green peppers", 1.5, "12"),
        ] {
            assert_eq!(scaled(line, by), written, "{line} × {by}");
        }
    }

    #[test]
    fn spoons_by_the_dozen_and_parts_of_a_pepper_are_weighed() {
        // USDA SR28: salt 18 g to the tablespoon, a medium green pepper 119 g.
        assert_eq!(scaled("5 tbsp salt", 8.0), "720 g");
        assert_eq!(scaled("1 green pepper", 1.3), "155 g");
    }

    #[test]
    fn what_is_written_is_read_again_as_the_same_weight() {
        let larder = Larder::bundled();
        for line in
            ["200 g garlic", "3 tbsp salt", "1 tsp turmeric", "2 pints water", "8 green peppers"]
        {
            for by in [0.31, 0.5, 1.387, 2.0, 7.77] {
                let text = scaled(line, by);
                let (amount, name) = measure::measured(line).unwrap();
                let food = larder.find(&name).unwrap();
                let again = food.kg(&measure::Amount::parse(&text).unwrap()).unwrap();
                let was = food.kg(&amount).unwrap() * by;
                assert!((again / was - 1.0).abs() < 0.015, "{line} × {by}: {text}");
            }
        }
    }
}
