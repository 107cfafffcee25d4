//! The figures by which batches are compared.

use crate::batch::stove::Stove;
use crate::show::clock::length;
use crate::show::story::Story;

/// One batch in figures; `None` where it is not known or did not happen.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Figures {
    /// From the start to the first boil, s.
    pub boil_after_s: Option<f64>,
    /// What left as vapour by the balance: first contents + in − out − last contents, kg.
    pub boiled_off_kg: Option<f64>,
    /// Mean evaporation while it boiled, kg/h.
    pub evaporation_kg_h: Option<f64>,
    /// Mean heat that the contents took up, W.
    pub heat_w: Option<f64>,
    pub stirs: u32,
    /// The longest time without a stir, s.
    pub unstirred_s: Option<f64>,
    pub worst_catch: Option<f64>,
    /// From the start to the target, s.
    pub target_after_s: Option<f64>,
    /// From the start to the target as it was first foretold at the boil, s. Nothing is foretold before
    /// the gravy is thinned, so that this is often the second boil.
    pub foretold_after_s: Option<f64>,
    /// From the start to the moment at which that was foretold, s.
    pub told_after_s: Option<f64>,
    /// Contents at the target, or at the end where it was not reached, kg.
    pub yield_kg: Option<f64>,
    /// Gas from a bottle, kg, or from the main, m³: the heat that was taken up over the share of the
    /// flame that the stove gives to the food.
    pub gas_kg: Option<f64>,
    pub gas_m3: Option<f64>,
}

impl Figures {
    #[must_use]
    pub fn of(story: &Story, stove: Option<&Stove>) -> Self {
        let tally = &story.tally;
        let since = |at: crate::moment::Moment| story.began.map(|began| at - began);
        let mean = |sum: f64, over_s: f64| (over_s >= 60.0).then(|| sum / over_s);
        let ends = story.contents.first().zip(story.contents.last());
        let at_target = story.reached.and_then(|at| story.contents.at(at.seconds()));
        let gas = stove.and_then(|stove| Some((stove.gas.unit(), burnt(story, stove)?)));
        let by = |unit: &str| gas.filter(|(sold_by, _)| *sold_by == unit).map(|(_, amount)| amount);
        Self {
            boil_after_s: tally.came_to_boil().and_then(since),
            boiled_off_kg: ends
                .map(|((_, first), (_, last))| first + tally.added_kg - tally.taken_kg - last),
            evaporation_kg_h: mean(tally.boiled_off_kg * 3600.0, tally.boiled_s),
            heat_w: mean(tally.heat_j, tally.heat_s),
            stirs: tally.stirs,
            unstirred_s: story.extent_s().map(|_| tally.longest_gap_s),
            worst_catch: tally.worst_catch.map(|index| index.min(CAUGHT)),
            target_after_s: story.reached.and_then(since),
            foretold_after_s: story
                .first_forecast
                .and_then(|(at, spread)| since(at).map(|s| s + spread.p50)),
            told_after_s: story.first_forecast.and_then(|(at, _)| since(at)),
            yield_kg: at_target.or_else(|| ends.map(|(_, last)| last.1)),
            gas_kg: by("kg"),
            gas_m3: by("m³"),
        }
    }
}

/// What the stove burnt, in what its gas is sold by; `None` unless heat was known most of the time.
fn burnt(story: &Story, stove: &Stove) -> Option<f64> {
    const MOST_OF_IT: f64 = 0.8;
    let (began, end) = story.extent_s()?;
    let known = story.tally.heat_s >= MOST_OF_IT * (end - began).max(60.0);
    known.then(|| story.tally.heat_j.max(0.0) / (stove.efficiency * stove.gas.net_j()))
}

/// From this index on all that can be said is that the bottom had caught long ago.
const CAUGHT: f64 = 2.0;

/// One figure: its names, how it is written, and how much of it matters in a kitchen.
#[derive(Debug)]
pub struct Column {
    /// Name with its unit, for files.
    pub key: &'static str,
    /// For people.
    pub name: &'static str,
    pub value: fn(&Figures) -> Option<f64>,
    pub decimals: usize,
    /// With its unit.
    pub words: fn(f64) -> String,
    /// A difference that a cook would mind: judged, no source.
    pub matters: f64,
    /// "41 {does this}: 24 min against 9 min for 44"
    pub most: &'static str,
}

fn minutes(min: f64) -> String {
    length((min * 60.0).max(0.0))
}

fn kg(v: f64) -> String {
    format!("{v:.2} kg")
}

/// Of [`COLUMNS`], the target as it was foretold, and when it was.
pub const FORETOLD: &str = "foretold_after_min";
pub const TOLD: &str = "foretold_when_min";

pub const COLUMNS: [Column; 13] = [
    Column {
        key: "boil_after_min",
        name: "to the boil",
        value: |f| f.boil_after_s.map(|s| s / 60.0),
        decimals: 1,
        words: minutes,
        matters: 10.0,
        most: "took longest to come to the boil",
    },
    Column {
        key: "boiled_off_kg",
        name: "boiled off",
        value: |f| f.boiled_off_kg,
        decimals: 3,
        words: kg,
        matters: 1.0,
        most: "lost most as steam",
    },
    Column {
        key: "evaporation_kg_h",
        name: "an hour at the boil",
        value: |f| f.evaporation_kg_h,
        decimals: 2,
        words: kg,
        matters: 0.7,
        most: "boiled off fastest in an hour",
    },
    Column {
        key: "heat_kw",
        name: "heat taken up, mean",
        value: |f| f.heat_w.map(|w| w / 1000.0),
        decimals: 2,
        words: |v| format!("{v:.1} kW"),
        matters: 0.5,
        most: "took up most heat",
    },
    Column {
        key: "stirs",
        name: "stirs",
        value: |f| Some(f64::from(f.stirs)),
        decimals: 0,
        words: |v| format!("{v:.0}"),
        matters: 6.0,
        most: "was stirred most often",
    },
    Column {
        key: "unstirred_min",
        name: "longest unstirred",
        value: |f| f.unstirred_s.map(|s| s / 60.0),
        decimals: 1,
        words: minutes,
        matters: 10.0,
        most: "stood longest without a stir",
    },
    Column {
        key: "worst_catch_index",
        name: "catch index at worst",
        value: |f| f.worst_catch,
        decimals: 2,
        words: |v| if v < CAUGHT { format!("{v:.2}") } else { format!("over {CAUGHT:.0}") },
        matters: 0.3,
        most: "came closest to catching, by its index",
    },
    Column {
        key: "target_after_min",
        name: "to the target",
        value: |f| f.target_after_s.map(|s| s / 60.0),
        decimals: 1,
        words: minutes,
        matters: 10.0,
        most: "took longest to its target",
    },
    Column {
        key: FORETOLD,
        name: "target as foretold",
        value: |f| f.foretold_after_s.map(|s| s / 60.0),
        decimals: 1,
        words: minutes,
        matters: f64::INFINITY,
        most: "was foretold to take longest",
    },
    Column {
        key: TOLD,
        name: "foretold after",
        value: |f| f.told_after_s.map(|s| s / 60.0),
        decimals: 1,
        words: minutes,
        matters: f64::INFINITY,
        most: "was foretold last",
    },
    Column {
        key: "yield_kg",
        name: "yield",
        value: |f| f.yield_kg,
        decimals: 3,
        words: kg,
        matters: 1.5,
        most: "gave most",
    },
    Column {
        key: "gas_kg",
        name: "gas, reckoned",
        value: |f| f.gas_kg,
        decimals: 3,
        words: kg,
        matters: 0.15,
        most: "burnt most gas",
    },
    Column {
        key: "gas_m3",
        name: "gas, reckoned",
        value: |f| f.gas_m3,
        decimals: 3,
        words: |v| format!("{v:.2} m³"),
        matters: 0.2,
        most: "burnt most gas",
    },
];
